//! The web pages: rendered on the server, answered on this machine alone.
//!
//! To add a page: write a module with `pub fn routes() -> axum::Router<App>`, merge it in [`router`], and in its
//! handlers take `State<App>`, read the notebook through [`App::notebook`], return [`PageResult`] made by
//! [`layout::page`]. Forms are read into a [`form::Filled`], whose fields come back with what was typed and what is
//! wrong with it. Long work reports to [`App::tasks`].

mod app;
mod assets;
mod bench;
mod calibrate;
pub mod clock;
pub mod error;
mod exposure;
mod films;
pub mod fmt;
pub mod form;
pub mod jobs;
mod kit;
pub mod kit_book;
pub mod layout;
pub mod log;
pub mod manners;
mod matching;
pub mod plan;
mod plot;
mod pocket;
mod reach;
mod records;
pub mod report;
pub mod scans;
pub mod security;
mod server;
mod setup;
mod side_by_side;
mod target;
pub mod tasks;
mod test_roll;
mod trial;
mod verdict;

pub use app::{App, OpenError, off_thread};
pub use error::{PageError, PageResult};
pub use scans::PictureReader;
pub use server::{ServeError, ServeOptions, serve};

use axum::Router;

/// Every page, behind the checks of [`security`]. Needs no socket, so tests can call it.
pub fn router(app: App) -> Router {
    let pages = Router::new().merge(assets::routes()).merge(tasks::routes()).merge(manners::routes());
    let pages = pages.merge(scans::routes()).merge(side_by_side::routes());
    let pages = pages
        .merge(jobs::routes())
        .merge(log::routes())
        .merge(kit::routes())
        .merge(reach::routes())
        .merge(plan::routes())
        .merge(test_roll::routes())
        .merge(setup::routes())
        .merge(bench::routes());
    let pages =
        pages.merge(exposure::routes()).merge(films::routes()).merge(verdict::routes()).merge(calibrate::routes());
    let pages = pages.merge(target::routes()).merge(pocket::routes());
    let pages = pages.merge(matching::routes()).merge(records::routes()).merge(trial::routes()).merge(report::routes());
    let pages = pages.fallback(error::no_such_page).method_not_allowed_fallback(error::wrong_method);
    security::guard(pages, app.port()).with_state(app)
}

#[cfg(test)]
mod tests;
