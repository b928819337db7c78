//! `closework serve`

use super::args;
use super::error::CliError;
use crate::demo;
use crate::web::{self, ServeOptions};
use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;

/// Where the pages are unless the command line says otherwise.
const PORT: u16 = 4620;

pub fn run(args: &args::Serve) -> Result<(), CliError> {
    let options = ServeOptions {
        notebook: args.notebook.clone().map_or_else(default_notebook, Ok)?,
        listen: args.listen.unwrap_or(SocketAddr::from((Ipv4Addr::LOCALHOST, PORT))),
        phones_at: args.phones_at,
        pictures_for: args.pictures_for.clone(),
        open_browser: !args.no_browser,
    };
    let example = !args.no_example;
    Ok(web::serve(&options, |app| if example { begin_example(app) } else { "/jobs".into() })?)
}

/// The page to open first. Without the example the program is as useful as before, so its failure only is told.
fn begin_example(app: &web::App) -> String {
    demo::begin(app).unwrap_or_else(|error| {
        eprintln!("closework: the example could not be made: {}", error.what());
        "/jobs".into()
    })
}

/// `$XDG_DATA_HOME/closework/notebook.sqlite`, or under `~/.local/share` (XDG Base Directory Specification).
pub(super) fn default_notebook() -> Result<PathBuf, CliError> {
    let absolute = |name| std::env::var_os(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let data = absolute("XDG_DATA_HOME").or_else(|| Some(absolute("HOME")?.join(".local/share")));
    Ok(data.ok_or(CliError::NoHome)?.join("closework").join("notebook.sqlite"))
}
