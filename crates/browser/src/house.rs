//! The processes: Closework's server, chromedriver.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use tempfile::TempDir;

use crate::Failure;

/// A process that is killed when its owner goes.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Closework over a notebook of its own, and a driver for the browser.
pub struct House {
    server: Running,
    _driver: Running,
    /// `http://127.0.0.1:PORT`, without a slash at its end.
    pub address: String,
    /// Where chromedriver listens.
    pub driver: String,
    folder: TempDir,
    example: bool,
}

impl House {
    /// Starts both. The notebook is new, so the example is made in it.
    pub fn open() -> Result<Self, Failure> {
        Self::with(true)
    }

    /// Starts both over a notebook with nothing in it.
    pub fn open_empty() -> Result<Self, Failure> {
        Self::with(false)
    }

    fn with(example: bool) -> Result<Self, Failure> {
        let folder = tempfile::tempdir()?;
        let (server, address) = serve(folder.path(), example)?;
        let (driver, port) = drive()?;
        Ok(Self { server, _driver: driver, address, driver: format!("http://127.0.0.1:{port}"), folder, example })
    }

    /// A folder for the browser's profile and what a test writes.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Kills the server without warning and starts it again over the same notebook, at a new address.
    pub fn kill_and_restart(&mut self) -> Result<(), Failure> {
        let (server, address) = serve(self.folder.path(), self.example)?;
        self.server = server;
        self.address = address;
        Ok(())
    }
}

/// The binary beside this test in the build's folder.
fn binary() -> Result<PathBuf, Failure> {
    let test = std::env::current_exe()?;
    let found = test.ancestors().map(|folder| folder.join("closework")).find(|path| path.is_file());
    found.ok_or_else(|| "closework is not built: run `cargo test --workspace --no-run` first".into())
}

fn serve(folder: &Path, example: bool) -> Result<(Running, String), Failure> {
    let mut command = Command::new(binary()?);
    command.arg("serve").arg("--notebook").arg(folder.join("notebook.sqlite"));
    command.args(["--listen", "127.0.0.1:0", "--phones-at", "127.0.0.1:0", "--no-browser"]);
    if !example {
        command.arg("--no-example");
    }
    let (child, line) = started(command, |line| line.starts_with("Closework is at"))?;
    let address = line.split_whitespace().find(|word| word.starts_with("http://")).ok_or("no address was printed")?;
    Ok((child, address.trim_end_matches('/').to_owned()))
}

fn drive() -> Result<(Running, u16), Failure> {
    let mut command = Command::new("chromedriver");
    command.arg("--port=0");
    let (child, line) = started(command, |line| line.contains("started successfully on port"))?;
    let port = line.rsplit(' ').next().unwrap_or_default().trim_end_matches('.').parse()?;
    Ok((child, port))
}

/// Starts a program and waits for the line that says it is ready; the rest of its output is read away.
fn started(mut command: Command, ready: impl Fn(&str) -> bool) -> Result<(Running, String), Failure> {
    let program = command.get_program().to_string_lossy().into_owned();
    let spawned = command.stdout(Stdio::piped()).spawn();
    let mut child = Running(spawned.map_err(|error| format!("{program} does not start: {error}"))?);
    let output = child.0.stdout.take().ok_or("no output")?;
    let mut lines = BufReader::new(output).lines();
    let line = lines.by_ref().map_while(Result::ok).find(|line| ready(line));
    let line = line.ok_or_else(|| format!("{program} ended before it was ready"))?;
    std::thread::spawn(move || lines.map_while(Result::ok).for_each(drop));
    Ok((child, line))
}
