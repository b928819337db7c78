//! Listening on loopback, and nowhere else; where phones may come in is for the person to say ([`super::log`]).

use std::io::{self, ErrorKind};
use std::net::SocketAddr;
use std::path::PathBuf;

use tokio::net::TcpListener;

use super::{App, OpenError, PictureReader, log, router, scans};

/// What `closework serve` was asked for.
#[derive(Debug, Clone)]
pub struct ServeOptions {
    /// The notebook file; made when it is not there.
    pub notebook: PathBuf,
    /// Where to listen; must be a loopback address. Port 0 takes a free one.
    pub listen: SocketAddr,
    /// Where phones reach the log once they are let in; the usual port on every network when not said.
    pub phones_at: Option<SocketAddr>,
    /// Other sites whose pages may read pictures of the scans.
    pub pictures_for: Vec<PictureReader>,
    /// Open the first page in the person's browser.
    pub open_browser: bool,
}

/// Why the server did not start.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// Anything but loopback would let other machines in.
    #[error(
        "--listen {0}: Closework answers this machine alone and listens only on loopback; write 127.0.0.1:{port} or [::1]:{port}",
        port = .0.port()
    )]
    NotLoopback(SocketAddr),
    /// Somebody else has the port.
    #[error(
        "port {port} is taken, perhaps by a Closework that is already running (look at http://{0}/); \
         to run a second one, choose another port with --listen {ip}:{next}",
        port = .0.port(), ip = display_ip(.0), next = next_port(.0)
    )]
    PortTaken(SocketAddr),
    /// The system refused the port.
    #[error("listening on {address} failed: {cause}")]
    Listen {
        /// The address asked for.
        address: SocketAddr,
        /// What the system said.
        cause: io::Error,
    },
    /// The notebook or its folder could not be opened.
    #[error(transparent)]
    Notebook(#[from] OpenError),
    /// The runtime could not start or the server stopped on an error.
    #[error("the web server stopped: {0}")]
    Stopped(io::Error),
}

fn display_ip(address: &SocketAddr) -> String {
    if address.is_ipv6() { format!("[{}]", address.ip()) } else { address.ip().to_string() }
}

fn next_port(address: &SocketAddr) -> u16 {
    address.port().checked_add(1).unwrap_or(4712)
}

/// Serves until interrupted (Ctrl-C). Prints the address on standard output once pages can be had. `started` is called
/// once the notebook is open and says which page to open first, such as `/jobs/1`; it must return at once, longer work
/// belongs in a thread of its own.
pub fn serve(options: &ServeOptions, started: impl FnOnce(&App) -> String) -> Result<(), ServeError> {
    if !options.listen.ip().is_loopback() {
        return Err(ServeError::NotLoopback(options.listen));
    }
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().map_err(ServeError::Stopped)?;
    let ended = runtime.block_on(listen_and_answer(options, started));
    // Work in the background must not hold the program up: everything saved is in the notebook, and what was half-made
    // is made anew at the next start.
    runtime.shutdown_background();
    ended
}

async fn listen_and_answer(options: &ServeOptions, started: impl FnOnce(&App) -> String) -> Result<(), ServeError> {
    let listener = TcpListener::bind(options.listen).await.map_err(|cause| match cause.kind() {
        ErrorKind::AddrInUse => ServeError::PortTaken(options.listen),
        _ => ServeError::Listen { address: options.listen, cause },
    })?;
    let address = listener.local_addr().map_err(ServeError::Stopped)?;
    let app = App::open(&options.notebook, address.port())?;
    app.let_read(options.pictures_for.clone());
    scans::resume(&app).map_err(OpenError::from)?;
    let_phones_in(&app, options.phones_at);
    let first = started(&app);
    announce(address, &first, options.open_browser);
    let served = axum::serve(listener, router(app)).with_graceful_shutdown(interrupted());
    tokio::select! {
        ended = served => ended.map_err(ServeError::Stopped),
        () = interrupted_for_good() => Ok(()),
    }
}

/// Lets phones in where the person asked for that at every start. When it fails, the pages are as useful as before.
fn let_phones_in(app: &App, phones_at: Option<SocketAddr>) {
    let door = &app.camera().door;
    if let Some(address) = phones_at {
        door.listen_at(address);
    }
    let wanted = app.with_notebook(|book| book.setting(log::AT_START));
    if !wanted.is_ok_and(|wanted| wanted.as_deref() == Some("yes")) {
        return;
    }
    match door.open(app) {
        Ok(bound) => {
            say(&format!(
                "Paired phones find the log at port {} of this machine (see the page “Phones”)",
                bound.port()
            ));
        }
        Err(error) => eprintln!("closework: phones cannot come in: {error}"),
    }
}

/// Tells whoever listens; a server whose output was closed serves on.
fn say(sentence: &str) {
    use std::io::Write;
    let _ = writeln!(std::io::stdout(), "{sentence}");
}

fn announce(address: SocketAddr, first: &str, open_browser: bool) {
    say(&format!("Closework is at http://{address}/ (Ctrl-C stops it)"));
    let link = format!("http://{address}{first}");
    if open_browser && let Err(cause) = open::that_detached(&link) {
        eprintln!("closework: no browser could be opened ({cause}); open {link} yourself");
    }
}

async fn interrupted() {
    if tokio::signal::ctrl_c().await.is_err() {
        std::future::pending::<()>().await;
    }
}

/// Open connections get two seconds after the interruption, then the program ends.
async fn interrupted_for_good() {
    interrupted().await;
    tokio::time::sleep(std::time::Duration::from_secs(2)).await;
}
