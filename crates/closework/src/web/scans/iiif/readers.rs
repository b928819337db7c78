//! Which other sites' pages may read pictures of the scans.

use std::str::FromStr;

use axum::http::uri::{Scheme, Uri};

/// A site as browsers name it in `Origin` (RFC 6454, section 6.2), or every site.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PictureReader {
    /// One site: scheme, host and, unless it is the usual one, port.
    Site(String),
    /// Every site that is open in a browser of this machine.
    Any,
}

impl FromStr for PictureReader {
    type Err = String;

    fn from_str(given: &str) -> Result<Self, String> {
        let text = given.trim();
        if text == "any" {
            return Ok(Self::Any);
        }
        site(text).map(Self::Site).ok_or_else(|| {
            let shown: String = text.chars().take(60).filter(|c| !c.is_control()).collect();
            format!("must be a site such as http://localhost:8000 or https://example.org, without a path, or any, not {shown}")
        })
    }
}

fn site(text: &str) -> Option<String> {
    // An origin has no path and no "/" at its end; a person's copy of the address line often has.
    let uri: Uri = text.strip_suffix('/').unwrap_or(text).parse().ok()?;
    let scheme = uri.scheme().filter(|scheme| [Scheme::HTTP, Scheme::HTTPS].contains(scheme))?;
    let authority = uri.authority().filter(|authority| !authority.as_str().contains('@'))?;
    let bare = matches!(uri.path(), "" | "/") && uri.query().is_none() && !text.ends_with("//");
    let usual = if *scheme == Scheme::HTTP { 80 } else { 443 };
    let host = authority.host().to_ascii_lowercase();
    let port = uri.port_u16().filter(|port| *port != usual).map_or_else(String::new, |port| format!(":{port}"));
    (bare && !host.is_empty()).then(|| format!("{scheme}://{host}{port}"))
}

/// The `Access-Control-Allow-Origin` that `readers` allow a page of `origin`.
pub(super) fn allowed<'a>(readers: &[PictureReader], origin: &'a str) -> Option<&'a str> {
    let meant = |reader: &PictureReader| match reader {
        PictureReader::Any => Some("*"),
        PictureReader::Site(site) => (site == origin).then_some(origin),
    };
    readers.iter().find_map(meant)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sites_are_read_as_browsers_write_them() {
        let table = [
            ("http://localhost:8000", "http://localhost:8000"),
            (" https://Example.ORG/ ", "https://example.org"),
            ("https://example.org:443", "https://example.org"),
            ("http://example.org:443", "http://example.org:443"),
            ("http://[::1]:80", "http://[::1]"),
        ];
        for (given, site) in table {
            assert_eq!(given.parse(), Ok(PictureReader::Site(site.into())), "{given}");
        }
        assert_eq!("any".parse(), Ok(PictureReader::Any));
    }

    #[test]
    fn what_is_no_site_is_refused_with_an_example() {
        let wrong = [
            "",
            "*",
            "null",
            "example.org",
            "ftp://example.org",
            "file:///x",
            "http://",
            "http://a/b",
            "http://a?b",
            "http://a@b",
        ];
        for given in wrong {
            let why = given.parse::<PictureReader>().expect_err(given);
            assert!(why.contains("such as http://localhost:8000"), "{why}");
        }
    }
}
