//! How a sidecar is known again: a property of our own in it holds a checksum over the rest of the file.

/// The namespace of our own property. The domain ends in `.invalid`, so that it can never be somebody's (RFC 2606).
pub(super) const NAMESPACE: &str = "http://closework.invalid/records/1.0/";
/// Its prefix.
pub(super) const PREFIX: &str = "closework";
/// The property's name.
pub(super) const PROPERTY: &str = "checksum";

/// What stands for the checksum while it is being computed.
pub(super) const BLANK: &str = "fnv1a64:0000000000000000";
const BEFORE: &str = "<closework:checksum>";
const AFTER: &str = "</closework:checksum>";
const KIND: &str = "fnv1a64:";
const DIGITS: usize = 16;

/// Whose a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose {
    /// Written by Closework, and as it was written.
    Ours,
    /// Written by Closework, and changed since.
    Changed,
    /// Written by something else.
    Foreign,
}

/// Puts the checksum in the place of [`BLANK`].
pub(super) fn seal(text: &str) -> String {
    let sum = format!("{KIND}{:016x}", fnv1a64(text.as_bytes()));
    text.replacen(BLANK, &sum, 1)
}

/// Whose a file with these bytes is.
pub fn whose(bytes: &[u8]) -> Whose {
    let Ok(text) = std::str::from_utf8(bytes) else { return Whose::Foreign };
    let ours = text.contains(NAMESPACE);
    match sum_in(text) {
        Some(at) => {
            let blank = format!("{}{BLANK}{}", &text[..at], &text[at + BLANK.len()..]);
            if seal(&blank) == text { Whose::Ours } else { Whose::Changed }
        }
        None if ours => Whose::Changed,
        None => Whose::Foreign,
    }
}

/// Where the checksum begins, when there is exactly one.
fn sum_in(text: &str) -> Option<usize> {
    let mut places = text.match_indices(BEFORE);
    let (at, _) = places.next()?;
    let at = at + BEFORE.len();
    let sum = text.get(at..at + BLANK.len())?;
    let digits = sum.strip_prefix(KIND)?;
    let whole = digits.len() == DIGITS && digits.bytes().all(|b| b.is_ascii_hexdigit());
    (whole && text[at + BLANK.len()..].starts_with(AFTER) && places.next().is_none()).then_some(at)
}

/// FNV-1a of 64 bits (G. Fowler, L. C. Noll, K.-P. Vo, D. Eastlake, "The FNV Non-Cryptographic Hash Algorithm",
/// draft-eastlake-fnv, section 2). It tells a file that was changed by hand or by another program; it does not keep anybody
/// from forging one, and need not.
fn fnv1a64(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_the_published_one() {
        // draft-eastlake-fnv, section 6 (test vectors): "", "a", "foobar".
        assert_eq!(fnv1a64(b""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fnv1a64(b"a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(fnv1a64(b"foobar"), 0x8594_4171_f739_67e8);
    }

    fn sealed(text: &str) -> String {
        seal(&format!("<x xmlns:closework=\"{NAMESPACE}\">{text}{BEFORE}{BLANK}{AFTER}</x>"))
    }

    #[test]
    fn any_change_is_seen() {
        let file = sealed("Käfer");
        assert_eq!(whose(file.as_bytes()), Whose::Ours);
        for at in 0..file.len() {
            let mut changed = file.clone().into_bytes();
            changed[at] ^= 1;
            assert_ne!(whose(&changed), Whose::Ours, "byte {at}");
        }
        assert_eq!(whose(file.replace("Käfer", "Kafer").as_bytes()), Whose::Changed);
        assert_eq!(whose(format!("{file}\n").as_bytes()), Whose::Changed);
        assert_eq!(whose(format!("{file}{file}").as_bytes()), Whose::Changed, "two sums are nobody's");
        assert_eq!(whose(b"<x:xmpmeta/>"), Whose::Foreign);
        assert_eq!(whose(b""), Whose::Foreign);
        assert_eq!(whose(&[0xff, 0xfe]), Whose::Foreign);
    }
}
