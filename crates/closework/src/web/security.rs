//! Who may ask: only this machine's own browser, on Closework's own pages.
//!
//! A server on the loopback address is within reach of every web site that the same browser has open. Three
//! checks keep them out: the `Host` header must name loopback (a foreign name that resolves to 127.0.0.1 is refused),
//! every request that could change something must come from our own pages, and answers may not be framed or embedded.

use std::net::{IpAddr, SocketAddr};

use axum::Router;
use axum::extract::connect_info::Connected;
use axum::extract::{ConnectInfo, DefaultBodyLimit, Request};
use axum::http::header::{HOST, HeaderName, ORIGIN};
use axum::http::{HeaderMap, HeaderValue, Method};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use axum::serve::IncomingStream;
use tokio::net::TcpListener;

use super::error::PageError;
use super::log::PhoneError;

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

/// Headers on every answer to a phone. Nothing is stored on the way or beside the page; the referrer stays within, so that a
/// plain form still says where it comes from.
const PHONE_HEADERS: [(&str, &str); 5] = [
    HEADERS[0],
    HEADERS[1],
    ("referrer-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("cache-control", "no-store"),
];

/// The largest form of a phone, bytes. Entries and photos set their own limits.
pub const PHONE_FORM_LIMIT: usize = 4 * 1024;

/// The address of this machine that a request came in at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Here(pub SocketAddr);

impl Connected<IncomingStream<'_, TcpListener>> for Here {
    fn connect_info(stream: IncomingStream<'_, TcpListener>) -> Self {
        // Without an address of its own nothing that a request says can match.
        let nowhere = SocketAddr::new(IpAddr::from([0, 0, 0, 0]), 0);
        let here = stream.io().local_addr().unwrap_or(nowhere);
        Self(SocketAddr::new(here.ip().to_canonical(), here.port()))
    }
}

/// Puts checks and headers around the routes for phones. They are reached over the local network, so that the same three
/// dangers come from another side: `Host` must be the very address that the connection came in at (a name could be made to
/// lead here), what could change something must come from a page of that address, and answers may not be framed. Who may
/// see what is for the routes to say, by the phone's token.
pub fn guard_camera<S: Clone + Send + Sync + 'static>(routes: Router<S>) -> Router<S> {
    let check = |request: Request, next: Next| async move {
        let mut answer = match admit_phone(&request) {
            Ok(()) => next.run(request).await,
            Err(refusal) => PhoneError::from(refusal).into_response(),
        };
        for (name, value) in PHONE_HEADERS {
            answer.headers_mut().insert(HeaderName::from_static(name), HeaderValue::from_static(value));
        }
        answer
    };
    routes.layer(DefaultBodyLimit::max(PHONE_FORM_LIMIT)).layer(middleware::from_fn(check))
}

fn admit_phone(request: &Request) -> Result<(), PageError> {
    let here = request.extensions().get::<ConnectInfo<Here>>().map(|info| info.0.0);
    let headers = request.headers();
    let host = one(headers, HOST.as_str())?.or(request.uri().authority().map(|a| a.as_str())).unwrap_or("no host");
    if here.is_none() || address_of(host) != here {
        return Err(PageError::forbidden(format!("This request was addressed to {host}, which is not this server.")));
    }
    if matches!(*request.method(), Method::GET | Method::HEAD) {
        return Ok(());
    }
    // Browsers send Sec-Fetch-Site only over connections that they trust; Origin they always send.
    let foreign = one(headers, "sec-fetch-site")?.is_some_and(|site| site != "same-origin");
    let origin = one(headers, ORIGIN.as_str())?.and_then(|origin| origin.strip_prefix("http://"));
    if foreign || origin.and_then(address_of) != here {
        return Err(PageError::forbidden(
            "This was sent by another site, or by a program that does not say where it is from.",
        ));
    }
    Ok(())
}

/// The address that an authority names by number; without a port it is port 80.
fn address_of(authority: &str) -> Option<SocketAddr> {
    let whole = authority.parse().ok();
    whole.or_else(|| authority.trim_matches(['[', ']']).parse().ok().map(|ip| SocketAddr::new(ip, 80)))
}

fn with_headers(mut answer: Response) -> Response {
    for (name, value) in HEADERS {
        // A page with a stricter policy of its own keeps it.
        answer.headers_mut().entry(HeaderName::from_static(name)).or_insert(HeaderValue::from_static(value));
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

    #[test]
    fn phones_name_the_machine_by_number() {
        let here = "192.168.1.20:4621".parse().ok();
        assert_eq!(address_of("192.168.1.20:4621"), here);
        assert_eq!(address_of("192.168.1.20"), "192.168.1.20:80".parse().ok());
        assert_eq!(address_of("[fe80::1]"), "[fe80::1]:80".parse().ok());
        for other in
            ["192.168.1.20:80", "192.168.1.2:4621", "camera.example:4621", "192.168.1.20:4621@x", "", "localhost"]
        {
            assert_ne!(address_of(other), here, "{other}");
        }
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
