//! Requests to the router without a socket.

mod bench;
mod calibrate;
mod door;
mod exposure;
mod log;
mod matching;
mod pages;
mod pocket;
mod records;
mod report;
mod scans;
mod shown_scans;
mod side_by_side;
mod target;
mod test_roll;
mod trial;
mod verdict;
mod whole_scans;

use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use axum::response::Response;
use http_body_util::BodyExt;
use notebook::Notebook;
use tower::ServiceExt;

use super::{App, router};

pub(crate) const PORT: u16 = 4711;

/// A program over an empty notebook in memory, with a folder of its own that goes when it is dropped.
pub(crate) struct House {
    pub app: App,
    folder: PathBuf,
}

impl House {
    pub fn new() -> Self {
        Self::over(Notebook::in_memory().expect("notebook"))
    }

    /// Over a notebook that is filled already.
    pub fn over(book: Notebook) -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let name = format!("closework-test-{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
        let folder = std::env::temp_dir().join(name);
        let app = App::over(book, folder.clone(), PORT).expect("app");
        Self { app, folder }
    }

    pub async fn send(&self, request: Request<Body>) -> Answer {
        let response = router(self.app.clone()).oneshot(request).await.expect("infallible");
        Answer::read(response).await
    }

    pub async fn get(&self, path: &str) -> Answer {
        self.send(ask("GET", path).body(Body::empty()).expect("request")).await
    }

    /// A form sent from our own page.
    pub async fn post(&self, path: &str, form: &[(&str, &str)]) -> Answer {
        let body: String = form_urlencoded::Serializer::new(String::new()).extend_pairs(form).finish();
        let request = ask("POST", path).header("sec-fetch-site", "same-origin");
        let request = request.header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        self.send(request.body(Body::from(body)).expect("request")).await
    }
}

impl Drop for House {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// A request addressed as a browser would.
pub(crate) fn ask(method: &str, path: &str) -> axum::http::request::Builder {
    Request::builder().method(method).uri(path).header(header::HOST, format!("127.0.0.1:{PORT}"))
}

pub(crate) struct Answer {
    pub status: StatusCode,
    pub headers: axum::http::HeaderMap,
    pub body: Vec<u8>,
}

impl Answer {
    async fn read(response: Response) -> Self {
        let (parts, body) = response.into_parts();
        let body = body.collect().await.expect("body").to_bytes().to_vec();
        Self { status: parts.status, headers: parts.headers, body }
    }

    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).and_then(|v| v.to_str().ok()).unwrap_or_default()
    }
}
