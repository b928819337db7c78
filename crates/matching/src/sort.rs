//! Scans in order.

use std::cmp::Ordering;

use crate::facts::Scan;

/// By what scans are put in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum SortBy {
    /// By the names of their files, numbers compared as numbers.
    #[default]
    Name,
    /// By when they were made.
    Time,
}

/// The scans in order, as indices.
pub fn sorted(scans: &[Scan], by: SortBy) -> Vec<usize> {
    let mut order: Vec<usize> = (0..scans.len()).collect();
    let name = |a: &usize, b: &usize| by_numbers(&scans[*a].name, &scans[*b].name);
    let time = |index: &usize| (scans[*index].time.is_none(), scans[*index].time.clone());
    match by {
        SortBy::Name => order.sort_by(name),
        SortBy::Time => order.sort_by(|a, b| time(a).cmp(&time(b)).then_with(|| name(a, b))),
    }
    order
}

/// Compares names so that "s9" comes before "s10": runs of digits by their value, everything else letter by letter without
/// regard to capitals. Names that are alike in that are told apart by their bytes, so that the order is total.
pub fn by_numbers(a: &str, b: &str) -> Ordering {
    let (mut left, mut right) = (a, b);
    while !left.is_empty() && !right.is_empty() {
        let (one, other);
        (one, left) = first_run(left);
        (other, right) = first_run(right);
        let order = compare_runs(one, other);
        if order != Ordering::Equal {
            return order;
        }
    }
    left.len().cmp(&right.len()).then_with(|| a.cmp(b))
}

/// The first run of digits or of anything else, and the rest.
pub(crate) fn first_run(text: &str) -> (&str, &str) {
    let digits = text.starts_with(|c: char| c.is_ascii_digit());
    text.split_at(text.find(|c: char| c.is_ascii_digit() != digits).unwrap_or(text.len()))
}

/// Two runs; digits come before anything else, as in the usual order of letters.
fn compare_runs(a: &str, b: &str) -> Ordering {
    let digits = |run: &str| run.starts_with(|c: char| c.is_ascii_digit());
    match (digits(a), digits(b)) {
        (true, true) => {
            // By value without turning them into numbers: serial numbers may have any length.
            let (a, b) = (a.trim_start_matches('0'), b.trim_start_matches('0'));
            a.len().cmp(&b.len()).then_with(|| a.cmp(b))
        }
        (false, false) => a.chars().flat_map(char::to_lowercase).cmp(b.chars().flat_map(char::to_lowercase)),
        (a, b) => b.cmp(&a),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_count_as_numbers() {
        let mut names = ["s10.tif", "s9.tif", "S08.tif", "s100.tif", "s9b.tif", "a2", "s.tif", "10", "9"];
        names.sort_by(|a, b| by_numbers(a, b));
        assert_eq!(names, ["9", "10", "a2", "S08.tif", "s9.tif", "s9b.tif", "s10.tif", "s100.tif", "s.tif"]);
        assert_eq!(by_numbers("x18446744073709551616", "x18446744073709551617"), Ordering::Less);
        assert_eq!(by_numbers("x007", "x7"), "x007".cmp("x7"), "alike in value, told apart by their bytes");
        assert_eq!(by_numbers("x7", "x7"), Ordering::Equal);
    }

    #[test]
    fn scans_without_a_time_come_last() {
        let at = |name: &str, time: Option<&str>| Scan { time: time.map(Into::into), ..Scan::named(name) };
        let scans = [at("b2", None), at("a1", Some("2026-03-02")), at("c3", Some("2026-03-01")), at("b10", None)];
        assert_eq!(sorted(&scans, SortBy::Time), [2, 1, 0, 3]);
        assert_eq!(sorted(&scans, SortBy::Name), [1, 0, 3, 2]);
    }
}
