//! The time of day, for the notebook, which has no clock of its own.

use std::time::{SystemTime, UNIX_EPOCH};

/// Now, in UTC to the second, as RFC 3339 writes it: `2026-03-01T09:00:00Z`.
pub fn now() -> String {
    rfc3339(SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default().as_secs())
}

/// Seconds since 1970 as a date of the Gregorian calendar. The year is counted from 1 March, so that the leap day
/// comes last; 400 years have 146 097 days.
fn rfc3339(seconds: u64) -> String {
    let (days, second) = (seconds / 86_400, seconds % 86_400);
    // 719 468 days lie between 1 March of year 0 and 1 January 1970.
    let shifted = days + 719_468;
    let (era, day_of_era) = (shifted / 146_097, shifted % 146_097);
    let year_of_era = (day_of_era - day_of_era / 1_460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let shifted_month = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * shifted_month + 2) / 5 + 1;
    let month = if shifted_month < 10 { shifted_month + 3 } else { shifted_month - 9 };
    let year = era * 400 + year_of_era + u64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}T{:02}:{:02}:{:02}Z", second / 3_600, second / 60 % 60, second % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_known_from_elsewhere() {
        // RFC 3339, section 5.8 and GNU date -u -d @N.
        assert_eq!(rfc3339(0), "1970-01-01T00:00:00Z");
        assert_eq!(rfc3339(951_782_400), "2000-02-29T00:00:00Z");
        assert_eq!(rfc3339(1_709_210_096), "2024-02-29T12:34:56Z");
        assert_eq!(rfc3339(4_107_542_400), "2100-03-01T00:00:00Z");
    }
}
