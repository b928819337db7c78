//! The web pages: rendered on the server, answered on this machine alone.
//!
//! To add a page: write a module with `pub fn routes() -> axum::Router<App>`, merge it in [`router`], and in its
//! handlers take `State<App>`, read the notebook through [`App::notebook`], return [`PageResult`] made by
//! [`layout::page`]. Forms are read into a [`form::Filled`], whose fields come back with what was typed and what is
//! wrong with it. Long work reports to [`App::tasks`].

mod app;
mod assets;
pub mod clock;
pub mod error;
pub mod fmt;
pub mod form;
pub mod layout;
pub mod manners;
pub mod plot;
pub mod scans;
pub mod security;
mod server;
pub mod tasks;

pub use app::{App, OpenError, off_thread};
pub use error::{PageError, PageResult};
pub use server::{ServeError, ServeOptions, serve, serve_with};

use axum::Router;

/// Every page, behind the checks of [`security`]. Needs no socket, so tests can call it.
pub fn router(app: App) -> Router {
    let pages = Router::new().merge(assets::routes()).merge(tasks::routes()).merge(manners::routes());
    let pages = pages.merge(scans::routes());
    let pages = pages.fallback(error::no_such_page).method_not_allowed_fallback(error::wrong_method);
    security::guard(pages, app.port()).with_state(app)
}

#[cfg(test)]
mod tests;
