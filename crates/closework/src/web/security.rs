//! Who may ask: only this machine's own browser, on Closework's own pages.
//!
//! A server on the loopback address is within reach of every web site that the same browser has open. Three
//! checks keep them out: the `Host` header must name loopback (a foreign name that resolves to 127.0.0.1 is refused),
//! every request that could change something must come from our own pages, and answers may not be framed or embedded.

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request};
use axum::http::header::{HOST, HeaderName, ORIGIN};
use axum::http::{HeaderMap, HeaderValue, Method};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};

use super::error::PageError;

/// The largest ordinary form, bytes. Uploads of scans set their own limit.
pub const FORM_LIMIT: usize = 2 * 1024 * 1024;

/// Headers on every answer. `blob:` is for pictures that a page has in hand before they are uploaded.
const HEADERS: [(&str, &str); 6] = [
    (
        "content-security-policy",
        "default-src 'self'; img-src 'self' blob:; object-src 'none'; base-uri 'none'; form-action 'self'; \
         frame-ancestors 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-resource-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("permissions-policy", "camera=(), microphone=(), geolocation=()"),
];

/// Puts the checks and headers around all routes; `port` is the one the server listens on.
pub fn guard<S: Clone + Send + Sync + 'static>(routes: Router<S>, port: u16) -> Router<S> {
    let check = move |request: Request, next: Next| async move {
        let answer = match admit(&request, port) {
            Ok(()) => next.run(request).await,
            Err(refusal) => refusal.into_response(),
        };
        with_headers(answer)
    };
    routes.layer(DefaultBodyLimit::max(FORM_LIMIT)).layer(middleware::from_fn(check))
}

fn with_headers(mut answer: Response) -> Response {
    for (name, value) in HEADERS {
        answer.headers_mut().insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    answer
}

fn admit(request: &Request, port: u16) -> Result<(), PageError> {
    let headers = request.headers();
    let host = one(headers, HOST.as_str())?.or(request.uri().authority().map(|a| a.as_str()));
    if !host.is_some_and(|host| is_ours(host, port)) {
        let named = host.unwrap_or("no host");
        return Err(PageError::forbidden(format!("This request was addressed to {named}, which is not this server.")));
    }
    if matches!(*request.method(), Method::GET | Method::HEAD) || from_our_pages(headers, port)? {
        return Ok(());
    }
    Err(PageError::forbidden("This form was sent by another site, or by a program that does not say where it is from."))
}

/// A header that may appear once at most: two would let two readers see two different values.
fn one<'a>(headers: &'a HeaderMap, name: &str) -> Result<Option<&'a str>, PageError> {
    let mut all = headers.get_all(name).iter();
    let first = all.next();
    match (first.map(HeaderValue::to_str).transpose(), all.next()) {
        (Ok(value), None) => Ok(value),
        _ => Err(PageError::forbidden(format!("The request's {name} header cannot be read."))),
    }
}

/// The authorities that this server answers to.
fn is_ours(authority: &str, port: u16) -> bool {
    ["127.0.0.1", "localhost", "[::1]"].iter().any(|name| {
        let rest =
            authority.get(..name.len()).filter(|a| a.eq_ignore_ascii_case(name)).map(|_| &authority[name.len()..]);
        rest.is_some_and(|rest| (rest.is_empty() && port == 80) || rest.strip_prefix(':') == Some(&port.to_string()))
    })
}

/// `Sec-Fetch-Site` is written by the browser itself and cannot be forged by a page. `Origin` is checked as well, except
/// for "null", which is what our own `Referrer-Policy: no-referrer` makes browsers send with a plain form.
fn from_our_pages(headers: &HeaderMap, port: u16) -> Result<bool, PageError> {
    let site = one(headers, "sec-fetch-site")?;
    let origin = one(headers, ORIGIN.as_str())?;
    let own_origin = origin.map(|o| o.strip_prefix("http://").is_some_and(|a| is_ours(a, port)));
    Ok(match (site, own_origin) {
        (Some(site), _) if site != "same-origin" => false,
        (Some(_), Some(own)) => own || origin == Some("null"),
        (Some(_), None) => true,
        (None, own) => own.unwrap_or(false),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn authorities_are_compared_whole() {
        for ours in ["127.0.0.1:4711", "localhost:4711", "LocalHost:4711", "[::1]:4711"] {
            assert!(is_ours(ours, 4711), "{ours}");
        }
        let foreign = ["127.0.0.1", "127.0.0.1:80", "127.0.0.1.nip.example:4711", "localhost.example:4711", "", "::1"];
        for other in foreign.into_iter().chain(["localhost:47110", "localhost:4711@example.org", "[::1]", "é"]) {
            assert!(!is_ours(other, 4711), "{other}");
        }
        assert!(is_ours("localhost", 80));
    }

    fn asks(pairs: &[(&'static str, &'static str)]) -> bool {
        let mut headers = HeaderMap::new();
        for (name, value) in pairs {
            headers.append(*name, HeaderValue::from_static(value));
        }
        from_our_pages(&headers, 4711).unwrap_or(false)
    }

    #[test]
    fn only_our_own_pages_may_change_anything() {
        assert!(asks(&[("sec-fetch-site", "same-origin"), ("origin", "null")]));
        assert!(asks(&[("sec-fetch-site", "same-origin"), ("origin", "http://localhost:4711")]));
        assert!(asks(&[("origin", "http://127.0.0.1:4711")]));
        assert!(!asks(&[]));
        assert!(!asks(&[("origin", "null")]));
        assert!(!asks(&[("origin", "https://127.0.0.1:4711")]));
        assert!(!asks(&[("origin", "http://127.0.0.1:80")]));
        assert!(!asks(&[("sec-fetch-site", "cross-site"), ("origin", "http://127.0.0.1:4711")]));
        assert!(!asks(&[("sec-fetch-site", "same-site")]));
        assert!(!asks(&[("sec-fetch-site", "same-origin"), ("origin", "http://example.org")]));
        assert!(!asks(&[("sec-fetch-site", "same-origin"), ("sec-fetch-site", "cross-site")]));
    }
}
