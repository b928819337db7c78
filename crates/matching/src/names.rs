//! By the names of the files: which number in them varies, and which of those are rolls and frames.

use std::collections::BTreeMap;

use crate::code::sure_by_size;
use crate::facts::{Film, Fit, Scan, fit, measured};
use crate::sort::first_run;
use crate::{MOST_CANDIDATES, Proposal, Proposals, Reason, Sureness};

/// Words before a number that say it is a roll's.
const ROLL_WORDS: [&str; 4] = ["r", "roll", "film", "rl"];
/// Words before a number that say it is a frame's.
const FRAME_WORDS: [&str; 6] = ["f", "fr", "frame", "no", "nr", "exp"];

/// A name without its ending, taken apart: what stands between the numbers, in small letters, and the numbers.
#[derive(Debug, Clone, PartialEq)]
struct Parsed {
    /// One more than numbers: before the first, between, after the last.
    texts: Vec<String>,
    /// Numbers too large to be one are kept as none.
    numbers: Vec<Option<u32>>,
}

impl Parsed {
    fn of(name: &str) -> Self {
        let mut rest = without_ending(name);
        let (mut texts, mut numbers) = (vec![String::new()], Vec::new());
        while !rest.is_empty() {
            let run;
            (run, rest) = first_run(rest);
            if run.starts_with(|c: char| c.is_ascii_digit()) {
                numbers.push(run.parse().ok());
                texts.push(String::new());
            } else if let Some(text) = texts.last_mut() {
                *text = run.to_lowercase();
            }
        }
        Self { texts, numbers }
    }

    /// The last word before a number: "r" in "scan_r2".
    fn word_before(&self, column: usize) -> &str {
        let text = self.texts[column].trim_end_matches(|c: char| !c.is_alphanumeric());
        text.rsplit(|c: char| !c.is_alphanumeric()).next().unwrap_or_default()
    }

    fn words(&self) -> impl Iterator<Item = &str> {
        self.texts.iter().flat_map(|text| text.split(|c: char| !c.is_alphanumeric())).filter(|word| !word.is_empty())
    }
}

/// Endings are short and hold a letter: "tif", "jp2"; "12.5" has none.
fn without_ending(name: &str) -> &str {
    match name.rsplit_once('.') {
        Some((stem, ending))
            if !stem.is_empty()
                && ending.len() <= 5
                && ending.chars().all(|c| c.is_ascii_alphanumeric())
                && ending.chars().any(|c| c.is_ascii_alphabetic()) =>
        {
            stem
        }
        _ => name,
    }
}

/// What one name says.
#[derive(Debug, Clone, PartialEq)]
struct Said {
    roll: Option<(usize, String)>,
    number: Option<u32>,
}

/// Proposes frames by the numbers in the names.
///
/// Names of one pattern are looked at together: the number that varies is the frame's; where two vary, or one follows "r" or
/// "roll", that one is the roll's. Letters that only one roll's title has ("A-07" on "Test roll A") name the roll too.
pub fn by_name(film: &Film, scans: &[Scan]) -> Proposals {
    let parsed: Vec<Parsed> = scans.iter().map(|scan| Parsed::of(&scan.name)).collect();
    let mut said = vec![Said { roll: None, number: None }; scans.len()];
    for group in of_one_pattern(&parsed) {
        let columns = Columns::of(film, &parsed, &group);
        for scan in group {
            said[scan] = columns.read(film, &parsed[scan]);
        }
    }
    let found: Vec<Found> = said.iter().map(|said| find(film, said)).collect();
    let counting = may_count(film, &found);
    let proposals: Vec<Proposal> =
        (0..scans.len()).map(|scan| proposal(film, scans, scan, &said, &found, &counting)).collect();
    let shown: Vec<usize> = proposals.iter().filter_map(|proposal| proposal.frame).collect();
    let without_scan = film.present().filter(|frame| !shown.contains(frame)).collect();
    Proposals { proposals, without_scan, ..Proposals::default() }
}

/// Scans whose names differ in numbers alone, as groups.
fn of_one_pattern(parsed: &[Parsed]) -> Vec<Vec<usize>> {
    let mut groups: BTreeMap<&[String], Vec<usize>> = BTreeMap::new();
    for (scan, parsed) in parsed.iter().enumerate() {
        groups.entry(&parsed.texts).or_default().push(scan);
    }
    groups.into_values().collect()
}

/// Which number in the names of one pattern says what.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Columns {
    roll: Option<usize>,
    frame: Option<usize>,
}

impl Columns {
    fn of(film: &Film, parsed: &[Parsed], group: &[usize]) -> Self {
        let first = &parsed[group[0]];
        let columns = first.numbers.len();
        let values = |column: usize| group.iter().map(move |scan| parsed[*scan].numbers[column]);
        let varies = |column: &usize| values(*column).any(|value| value != first.numbers[*column]);
        let are_rolls = |column: &usize| values(*column).all(|value| value.and_then(|n| roll_of(film, n)).is_some());
        let marked = |column: &usize, words: &[&str]| words.contains(&first.word_before(*column));
        let varying: Vec<usize> = (0..columns).filter(varies).collect();
        let roll = (0..columns).find(|column| marked(column, &ROLL_WORDS) && are_rolls(column)).or_else(|| {
            // Two that vary: rolls stand before frames.
            let first = *varying.first().filter(|_| varying.len() > 1)?;
            Some(first).filter(are_rolls)
        });
        let free = |column: &usize| Some(*column) != roll;
        let frame = (0..columns)
            .filter(free)
            .find(|column| marked(column, &FRAME_WORDS))
            .or_else(|| varying.iter().copied().rfind(free))
            .or_else(|| (0..columns).rfind(free));
        Self { roll, frame }
    }

    fn read(self, film: &Film, parsed: &Parsed) -> Said {
        let by_number = self.roll.and_then(|column| {
            let number = parsed.numbers[column]?;
            Some((roll_of(film, number)?, number.to_string()))
        });
        let roll = by_number.or_else(|| roll_by_words(film, parsed));
        Said { roll, number: self.frame.and_then(|column| parsed.numbers[column]) }
    }
}

/// The roll that a number means: the one whose title alone holds it; where no title holds a number, the so-many-th.
fn roll_of(film: &Film, number: u32) -> Option<usize> {
    let titles: Vec<Parsed> = film.rolls.iter().map(|title| Parsed::of(title)).collect();
    let mut holding = (0..titles.len()).filter(|roll| titles[*roll].numbers.contains(&Some(number)));
    match (holding.next(), holding.next()) {
        (Some(roll), None) => Some(roll),
        (None, _) if titles.iter().all(|title| title.numbers.is_empty()) => {
            (number as usize).checked_sub(1).filter(|roll| *roll < titles.len())
        }
        _ => None,
    }
}

/// The roll whose title has a word of the name that no other title has.
fn roll_by_words(film: &Film, parsed: &Parsed) -> Option<(usize, String)> {
    let titles: Vec<Parsed> = film.rolls.iter().map(|title| Parsed::of(title)).collect();
    let holders = |word: &str| (0..titles.len()).filter(|roll| titles[*roll].words().any(|w| w == word)).collect();
    let named = parsed.words().filter_map(|word| match holders(word) {
        holders if Vec::len(&holders) == 1 && titles.len() > 1 => Some((holders[0], word.to_owned())),
        _ => None,
    });
    let mut named: Vec<(usize, String)> = named.collect();
    named.dedup_by_key(|(roll, _)| *roll);
    if named.len() == 1 { named.pop() } else { None }
}

/// The frames that a name may mean.
#[derive(Debug, Clone, PartialEq)]
struct Found {
    frames: Vec<usize>,
    roll: Option<usize>,
}

fn find(film: &Film, said: &Said) -> Found {
    let roll = said.roll.as_ref().map(|(roll, _)| *roll);
    let fits = |index: &usize| {
        let frame = &film.frames[*index];
        Some(frame.number) == said.number && roll.is_none_or(|roll| roll == frame.roll)
    };
    Found { frames: film.present().filter(fits).collect(), roll }
}

/// Rolls whose scans' numbers run from some number on without a gap while frames are left over: a scanner's counter looks
/// like that. As many scans as frames, or numbers with gaps, do not.
fn may_count(film: &Film, found: &[Found]) -> Vec<bool> {
    (0..film.rolls.len())
        .map(|roll| {
            let numbers = found.iter().filter(|found| found.frames.len() == 1).map(|found| found.frames[0]);
            let numbers = numbers.filter(|frame| film.frames[*frame].roll == roll);
            let mut numbers: Vec<u32> = numbers.map(|frame| film.frames[frame].number).collect();
            numbers.sort_unstable();
            numbers.dedup();
            let frames = film.present().filter(|frame| film.frames[*frame].roll == roll).count();
            numbers.windows(2).all(|pair| pair[1] == pair[0] + 1) && numbers.len() < frames
        })
        .collect()
}

fn proposal(film: &Film, scans: &[Scan], scan: usize, said: &[Said], found: &[Found], counting: &[bool]) -> Proposal {
    let Some(number) = said[scan].number else { return Proposal::nothing(scan, Reason::NoNumber) };
    let frames = &found[scan].frames;
    let Some(frame) = frames.first().copied() else {
        return Proposal::nothing(scan, Reason::NoSuchFrame(number));
    };
    let candidates: Vec<usize> = frames.iter().copied().take(MOST_CANDIDATES).collect();
    if frames.len() > 1 {
        let reasons = vec![Reason::RollNotSaid(number)];
        let sureness = Sureness::Open;
        return Proposal { scan, frame: Some(frame), sureness, candidates, candidates_in_all: frames.len(), reasons };
    }
    let facts = &film.frames[frame];
    let mut reasons = vec![Reason::Named { roll: said[scan].roll.as_ref().map(|(_, word)| word.clone()), number }];
    reasons.extend(measured(&scans[scan], facts));
    let twice = found.iter().filter(|other| other.frames == [frame]).count() > 1;
    let counting = counting[facts.roll];
    let sureness = match fit(&scans[scan], facts) {
        Some(Fit::Disagrees) => Sureness::Open,
        Some(Fit::Agrees) if sure_by_size(film, &scans[scan]) == Some(frame) => Sureness::Sure,
        _ if twice || counting => Sureness::Open,
        _ => Sureness::Likely,
    };
    if twice {
        reasons.push(Reason::NamedTwice);
    }
    if counting {
        reasons.push(Reason::MayBeACounter);
    }
    Proposal { scan, frame: Some(frame), sureness, candidates, candidates_in_all: 1, reasons }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::Frame;

    fn film(rolls: &[&str], frames: u32) -> Film {
        let rolls: Vec<String> = rolls.iter().map(|title| (*title).into()).collect();
        let of_roll = |roll| (1..=frames).map(move |number| Frame::new(roll, number));
        let frames = (0..rolls.len()).flat_map(of_roll).collect();
        Film { rolls, frames }
    }

    /// Roll and number that each name is taken for.
    fn read(film: &Film, names: &[&str]) -> Vec<Option<(usize, u32)>> {
        let scans: Vec<Scan> = names.iter().map(|name| Scan::named(name)).collect();
        let found = by_name(film, &scans).proposals;
        let frame = |index: usize| (film.frames[index].roll, film.frames[index].number);
        found.iter().map(|proposal| proposal.frame.map(frame)).collect()
    }

    #[test]
    fn the_number_that_varies_is_the_frames() {
        let two = film(&["First roll", "Second roll"], 12);
        let found = read(&two, &["r2_07.tif", "r2_08.tif", "r1_12.tif"]);
        assert_eq!(found, [Some((1, 7)), Some((1, 8)), Some((0, 12))]);
        let one = film(&["Beetles"], 12);
        assert_eq!(read(&one, &["beetles-12.tif", "beetles-3.tif"]), [Some((0, 12)), Some((0, 3))]);
        // The date does not vary; the resolution stands behind and does not either.
        let found = read(&one, &["20260301_4_2400dpi.tif", "20260301_05_2400dpi.tif"]);
        assert_eq!(found, [Some((0, 4)), Some((0, 5))]);
        assert_eq!(read(&one, &["frame7_v2.tif", "frame8_v3.tif"]), [Some((0, 7)), Some((0, 8))], "marked as a frame");
        assert_eq!(read(&one, &["beetle.tif", "IMG_0341.tif"]), [None, None]);
    }

    #[test]
    fn rolls_go_by_their_titles() {
        let letters = film(&["Test roll A", "Test roll B"], 10);
        assert_eq!(read(&letters, &["A-07.tif", "B-07.tif"]), [Some((0, 7)), Some((1, 7))]);
        let numbers = film(&["Roll 31", "Roll 32"], 10);
        assert_eq!(read(&numbers, &["roll32_f4.tif", "roll31_f4.tif"]), [Some((1, 4)), Some((0, 4))]);
        // One number, two rolls: which is not said.
        let scans = [Scan::named("x_4.tif"), Scan::named("x_5.tif")];
        let found = by_name(&numbers, &scans).proposals;
        assert_eq!((found[0].sureness, found[0].candidates.as_slice()), (Sureness::Open, &[3, 13][..]));
        assert_eq!(found[0].reasons, [Reason::RollNotSaid(4)]);
    }

    #[test]
    fn a_counter_is_not_taken_for_frames() {
        let one = film(&["Beetles"], 10);
        let names = |numbers: &[u32]| {
            let scans: Vec<Scan> = numbers.iter().map(|n| Scan::named(&format!("scan{n:04}.tif"))).collect();
            by_name(&one, &scans).proposals.iter().map(|p| p.sureness).collect::<Vec<_>>()
        };
        assert_eq!(names(&[1, 2, 3]), [Sureness::Open; 3], "1, 2, 3 of ten frames may count the scans");
        assert_eq!(names(&[1, 2, 5]), [Sureness::Likely; 3], "a gap is nobody's counter");
        assert_eq!(names(&(1..=10).collect::<Vec<_>>()), [Sureness::Likely; 10], "all ten");
        assert_eq!(names(&[4, 4, 9]), [Sureness::Open, Sureness::Open, Sureness::Likely], "one number twice");
    }

    #[test]
    fn names_are_taken_apart() {
        let parsed = Parsed::of("Scan_R2-007.TIF");
        assert_eq!(parsed.texts, ["scan_r", "-", ""]);
        assert_eq!(parsed.numbers, [Some(2), Some(7)]);
        assert_eq!(Parsed::of("a99999999999.tif").numbers, [None]);
        assert_eq!((without_ending("12.5"), without_ending("x.jp2"), without_ending(".tif")), ("12.5", "x", ".tif"));
        assert_eq!(Parsed::of("Käfer 3").texts, ["käfer ", ""]);
    }
}
