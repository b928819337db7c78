//! The second listener, through which phones reach the log: closed until the person opens it, and shut at once.
//!
//! It runs on a runtime of its own: shutting it ends every connection that is open, whatever it is doing, and comes back
//! when nobody listens any more. What the notebook has begun to write by then is written.

use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener, UdpSocket};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use tokio::runtime::Runtime;

use super::at_camera;
use super::pairing::{Code, NotPaired, Pairing};
use crate::web::App;

/// The port for phones unless another was asked for; the next one after the pages' own.
pub const PORT: u16 = 4621;

/// How long shutting waits for what is being written; the listener and the connections end at once.
const LAST_WRITING: Duration = Duration::from_secs(2);

/// Why the door did not open.
#[derive(Debug, thiserror::Error)]
pub enum NotOpened {
    /// Another program has the port.
    #[error("port {port} is taken by another program; start Closework with --phones-at {ip}:{next} to use another", port = .0.port(), ip = .0.ip(), next = .0.port().wrapping_add(1))]
    PortTaken(SocketAddr),
    /// The system said no.
    #[error("listening on {address} failed ({cause})")]
    Refused {
        /// The address that was asked for.
        address: SocketAddr,
        /// What the system said.
        cause: io::Error,
    },
}

/// The door and the code beside it.
#[derive(Debug)]
pub struct Door {
    state: Mutex<State>,
    began: Instant,
}

#[derive(Debug)]
struct State {
    pairing: Pairing,
    listen: SocketAddr,
    open: Option<Open>,
}

#[derive(Debug)]
struct Open {
    address: SocketAddr,
    /// Always there until dropped.
    runtime: Option<Runtime>,
}

impl Drop for Open {
    /// Waits on a thread of its own: a runtime may not be waited for on a thread of another one, which pages run on.
    fn drop(&mut self) {
        if let Some(runtime) = self.runtime.take() {
            // Fails only where the other thread panicked; the runtime is gone then, too.
            let _ = std::thread::spawn(move || runtime.shutdown_timeout(LAST_WRITING)).join();
        }
    }
}

impl Default for Door {
    fn default() -> Self {
        let listen = SocketAddr::from((Ipv4Addr::UNSPECIFIED, PORT));
        let state = State { pairing: Pairing::default(), listen, open: None };
        Self { state: Mutex::new(state), began: Instant::now() }
    }
}

impl Door {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn now(&self) -> Duration {
        self.began.elapsed()
    }

    /// Says where to listen, from the next opening on.
    pub fn listen_at(&self, address: SocketAddr) {
        self.state().listen = address;
    }

    /// Opens the door; one that is open stays as it is. Gives the address that was bound.
    pub fn open(&self, app: &App) -> Result<SocketAddr, NotOpened> {
        let mut state = self.state();
        if let Some(open) = &state.open {
            return Ok(open.address);
        }
        let address = state.listen;
        let opened = bind(address).and_then(|listener| serve(listener, app.clone()));
        let opened = opened.map_err(|cause| match cause.kind() {
            io::ErrorKind::AddrInUse => NotOpened::PortTaken(address),
            _ => NotOpened::Refused { address, cause },
        })?;
        // Opened again, it is where paired phones have known it, also when the port was a free one at first.
        state.listen.set_port(opened.address.port());
        Ok(state.open.insert(opened).address)
    }

    /// Shuts the door and forgets the code. When this comes back, nobody is let in any more.
    pub fn close(&self) {
        let open = {
            let mut state = self.state();
            state.pairing.forget_code();
            state.open.take()
        };
        // Outside the lock: a request that is waiting for it would be waited for.
        drop(open);
    }

    /// Where it listens, while it is open.
    pub fn address(&self) -> Option<SocketAddr> {
        self.state().open.as_ref().map(|open| open.address)
    }

    /// Shows a code in the place of the one before.
    pub fn show_code(&self, code: Code) -> Result<(), NotPaired> {
        let now = self.now();
        self.state().pairing.show(code, now)
    }

    /// The code that can be used now, and how long still.
    pub fn code(&self) -> Option<(Code, Duration)> {
        self.state().pairing.waiting(self.now()).map(|(code, left)| (code.clone(), left))
    }

    /// Why there can be no code just now.
    pub fn paused(&self) -> Result<(), NotPaired> {
        self.state().pairing.not_paused(self.now())
    }

    /// Tries a code as it was typed on a phone.
    pub fn try_code(&self, typed: &str) -> Result<(), NotPaired> {
        let now = self.now();
        self.state().pairing.try_code(typed, now)
    }
}

fn bind(address: SocketAddr) -> io::Result<TcpListener> {
    let listener = TcpListener::bind(address)?;
    listener.set_nonblocking(true)?;
    Ok(listener)
}

fn serve(listener: TcpListener, app: App) -> io::Result<Open> {
    let address = listener.local_addr()?;
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build()?;
    let guard = runtime.enter();
    let listener = tokio::net::TcpListener::from_std(listener)?;
    drop(guard);
    let routes = at_camera::router(app).into_make_service_with_connect_info::<at_camera::Here>();
    runtime.spawn(async move {
        if let Err(cause) = axum::serve(listener, routes).await {
            eprintln!("closework: the log for phones stopped ({cause})");
        }
    });
    Ok(Open { address, runtime: Some(runtime) })
}

/// The addresses under which this machine can be reached at the port of `bound`. A machine has one on each of its networks;
/// which one is a question to the routing table, asked by sockets that are connected and never send.
pub fn reachable(bound: SocketAddr) -> Vec<SocketAddr> {
    if !bound.ip().is_unspecified() {
        return vec![bound];
    }
    let mut found: Vec<SocketAddr> = Vec::new();
    for target in TOWARDS {
        let here = address_towards(target.into()).map(|ip| SocketAddr::new(ip, bound.port()));
        found.extend(here.filter(|here| !found.contains(here)));
    }
    found
}

/// Home and office networks (RFC 1918), link-local ones (RFC 3927), and one for documentation that stands for the world
/// outside (RFC 5737).
const TOWARDS: [[u8; 4]; 6] =
    [[192, 168, 0, 1], [192, 168, 1, 1], [10, 0, 0, 1], [172, 16, 0, 1], [192, 0, 2, 1], [169, 254, 0, 1]];

fn address_towards(target: IpAddr) -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect((target, 9)).ok()?;
    let here = socket.local_addr().ok()?.ip();
    (!here.is_loopback() && !here.is_unspecified()).then_some(here)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_that_was_bound_is_the_one_to_reach() {
        let bound = SocketAddr::from(([127, 0, 0, 1], 9));
        assert_eq!(reachable(bound), [bound]);
        let anywhere = reachable(SocketAddr::from((Ipv4Addr::UNSPECIFIED, 9)));
        assert!(anywhere.iter().all(|here| here.port() == 9 && !here.ip().is_loopback()), "{anywhere:?}");
    }
}
