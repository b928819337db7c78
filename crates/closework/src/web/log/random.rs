//! What nobody must guess: codes and tokens from the system's randomness, and the hash under which a token is kept.

use sha2::{Digest, Sha256};

use crate::web::PageError;

/// A random number.
pub fn number() -> Result<u32, PageError> {
    getrandom::u32().map_err(no_randomness)
}

/// A token of 256 random bits, in hexadecimal digits.
pub fn token() -> Result<String, PageError> {
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes).map_err(no_randomness)?;
    Ok(hex(&bytes))
}

/// What is kept of a token: who reads the notebook cannot make the token of it (SHA-256, FIPS 180-4; the token is random
/// and long, so that no slow hash is needed).
pub fn hash(token: &str) -> String {
    hex(&Sha256::digest(token.as_bytes()))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn no_randomness(cause: getrandom::Error) -> PageError {
    PageError::broken("This machine gave no random number, so no phone can be paired safely.", cause)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_the_standards() {
        // FIPS 180-4's example for SHA-256, "abc", in NIST's "Example values" (SHA256.pdf).
        assert_eq!(hash("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn tokens_are_long_and_differ() {
        let (one, other) = (token().unwrap(), token().unwrap());
        assert_eq!((one.len(), one == other), (64, false));
    }
}
