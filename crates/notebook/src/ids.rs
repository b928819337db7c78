//! The numbers by which the notebook's entries are called: one type each, so that a roll's number cannot be taken for
//! a job's.

use std::fmt;
use std::str::FromStr;

use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, ValueRef};

/// A text that is not the number of an entry.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{given}\" is not the number of a {what}: it must be a whole number above 0")]
pub struct IdError {
    /// What was to be named, for example "roll".
    pub what: &'static str,
    /// The text as it came.
    pub given: String,
}

/// Digits only, so that there is one way to write each number.
fn parse(what: &'static str, given: &str) -> Result<i64, IdError> {
    let plain = !given.starts_with('0') && given.bytes().all(|byte| byte.is_ascii_digit());
    let number = if plain { given.parse().ok() } else { None };
    number.ok_or_else(|| IdError { what, given: given.to_owned() })
}

macro_rules! id {
    ($name:ident, $what:literal) => {
        #[doc = concat!("The number of a ", $what, ". Never given out twice by one notebook.")]
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub i64);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }

        impl FromStr for $name {
            type Err = IdError;

            fn from_str(given: &str) -> Result<Self, IdError> {
                parse($what, given).map(Self)
            }
        }

        impl ToSql for $name {
            fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
                self.0.to_sql()
            }
        }

        impl FromSql for $name {
            fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
                i64::column_result(value).map(Self)
            }
        }
    };
}

id!(JobId, "job");
id!(RollId, "roll");
id!(FrameId, "frame");
id!(ScanId, "scan");
id!(MeasurementId, "measurement");
id!(DecisionId, "decision");
id!(ResponseId, "response");
id!(DeviceId, "phone");
id!(EntryId, "log entry");
id!(PhotoId, "photo");
id!(UseId, "use");
id!(TrialId, "trial");

/// The name that an entry of the log or a photo was given where it was made, so that a second arrival is known: a UUID in
/// the canonical form of RFC 9562, section 4, in small letters.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Uid(String);

impl Uid {
    /// The name as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Uid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A text that is no UUID.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{given}\" is no name for an entry: it must be a UUID, such as 0d9f5a3e-93c1-4b6a-9f10-2f6f6e0c7a11")]
pub struct UidError {
    /// The text as it came.
    pub given: String,
}

impl FromStr for Uid {
    type Err = UidError;

    fn from_str(given: &str) -> Result<Self, UidError> {
        let dash = |at| matches!(at, 8 | 13 | 18 | 23);
        let fits = |(at, byte): (usize, u8)| if dash(at) { byte == b'-' } else { byte.is_ascii_hexdigit() };
        let whole = given.len() == 36 && given.bytes().enumerate().all(fits);
        if whole { Ok(Self(given.to_ascii_lowercase())) } else { Err(UidError { given: given.to_owned() }) }
    }
}

impl ToSql for Uid {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        self.0.to_sql()
    }
}

impl FromSql for Uid {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        value.as_str()?.parse().map_err(|error| FromSqlError::Other(Box::new(error)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_shown_reads_back() {
        for number in [1, 42, i64::MAX] {
            assert_eq!(JobId(number).to_string().parse(), Ok(JobId(number)));
        }
    }

    #[test]
    fn only_plain_numbers_above_zero_are_taken() {
        for given in ["", "0", "-1", "+1", "01", " 1", "1 ", "1.0", "x", "9223372036854775808", "١"] {
            let error = given.parse::<RollId>().expect_err(given);
            assert_eq!(error, IdError { what: "roll", given: given.to_owned() });
        }
    }
}
