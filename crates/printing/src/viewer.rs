//! What the document asks of the program that prints it: no scaling.
//!
//! The writer has no call for this (`/PrintScaling /None`, ISO 32000-1, table 150). It writes the catalog as the last object
//! before the table of places, so the entry can be put into it and nothing but the table itself moves.

use crate::error::PrintError;

const ENTRY: &[u8] = b"/ViewerPreferences<</PrintScaling/None/DisplayDocTitle true>>";

/// The same document with the wish in its catalog.
pub fn with_preferences(bytes: Vec<u8>) -> Result<Vec<u8>, PrintError> {
    added(&bytes).ok_or_else(|| PrintError::Writer("its catalog is not where it was expected".into()))
}

fn added(bytes: &[u8]) -> Option<Vec<u8>> {
    let start = rfind(bytes, b"startxref")?;
    let digits: Vec<u8> =
        bytes[start + 9..].iter().copied().skip_while(u8::is_ascii_whitespace).take_while(u8::is_ascii_digit).collect();
    let table: usize = std::str::from_utf8(&digits).ok()?.parse().ok()?;
    if !bytes.get(table..)?.starts_with(b"xref") {
        return None;
    }
    let last = rfind(&bytes[..table], b" obj")?;
    let object = &bytes[last..table];
    let opened = last + find(object, b"<<")? + 2;
    let is_catalog = find(object, b"/Catalog").is_some() && find(object, b"/ViewerPreferences").is_none();
    let is_last = object.windows(6).filter(|word| word == b"endobj").count() == 1;
    if !is_catalog || !is_last {
        return None;
    }
    let mut out = bytes[..opened].to_vec();
    out.extend_from_slice(ENTRY);
    out.extend_from_slice(&bytes[opened..start]);
    out.extend_from_slice(format!("startxref\n{}\n%%EOF\n", table + ENTRY.len()).as_bytes());
    Some(out)
}

fn find(bytes: &[u8], word: &[u8]) -> Option<usize> {
    bytes.windows(word.len()).position(|window| window == word)
}

fn rfind(bytes: &[u8], word: &[u8]) -> Option<usize> {
    bytes.windows(word.len()).rposition(|window| window == word)
}
