//! The pictures that another library's own tests read (see `checks/foreign_corpus.py`), in the folder that
//! CLOSEWORK_FOREIGN names: every one decodes as its reference does or is refused in words, within 5 s and 500 MB.
//!
//! `./test` makes the folder. Without it the check fails, unless CLOSEWORK_WITHOUT_CORPUS=1 says that this is meant.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::common::channels_of;
use imaging::{Fault, Scan, ToneChoice};
use planes::Region;

/// An entry of the manifest.
#[derive(serde::Deserialize)]
struct Entry {
    name: String,
    kind: String,
    #[serde(default)]
    width: u32,
    #[serde(default)]
    height: u32,
    #[serde(default)]
    channels: usize,
    #[serde(default)]
    tolerance: f32,
    /// The file of what is expected; absent when no other reader made sense of the picture.
    expected: Option<String>,
}

fn folder() -> Option<PathBuf> {
    let folder = std::env::var_os("CLOSEWORK_FOREIGN").map(PathBuf::from);
    if folder.is_none() {
        let meant = std::env::var("CLOSEWORK_WITHOUT_CORPUS").is_ok_and(|v| v == "1");
        assert!(meant, "CLOSEWORK_FOREIGN names no folder: run ./test, or set CLOSEWORK_WITHOUT_CORPUS=1");
        eprintln!("NOT CHECKED: pictures of another library's tests, because CLOSEWORK_WITHOUT_CORPUS=1 is set");
    }
    folder
}

/// What came of a file.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord, Clone)]
enum Outcome {
    /// Every sample as in the reference.
    Equal,
    /// Another picture than the reference, in these words.
    Different(String),
    /// Read, and no other reader made sense of it.
    Alone,
    /// Refused by the kind of feature.
    Refused(String),
    /// Refused as damaged, cut short, misleading.
    Broken(String),
    /// Not one of our formats.
    Foreign,
}

/// The whole picture where it is small, else its first rows.
fn looked_at(scan: &Scan) -> Region {
    let whole = scan.whole();
    let rows = (40_000_000 / u64::from(whole.width)).clamp(1, u64::from(whole.height)) as u32;
    Region { height: rows, ..whole }
}

fn outcome(folder: &Path, entry: &Entry) -> Outcome {
    let path = folder.join("images").join(&entry.name);
    let read = Scan::open(&path).and_then(|mut scan| {
        let region = looked_at(&scan);
        let reading = scan.read_encoded(region)?;
        scan.read_linear(Region { width: 1, height: 1, ..region }, ToneChoice::Icc)?;
        Ok(reading)
    });
    let picture = match read {
        Ok(reading) => reading.picture,
        Err(error) => {
            assert!(error.to_string().len() > 40, "{error}");
            return match error.fault {
                Fault::NotAPicture => Outcome::Foreign,
                Fault::Unsupported(feature) => Outcome::Refused(feature.to_string()),
                fault => Outcome::Broken(fault.to_string()),
            };
        }
    };
    let Some(expected) = &entry.expected else { return Outcome::Alone };
    let planes = channels_of(&picture);
    let found = (planes[0].width() as u32, planes[0].height() as u32, planes.len());
    if found != (entry.width, entry.height, entry.channels) {
        let expected = (entry.width, entry.height, entry.channels);
        return Outcome::Different(format!("{found:?} instead of {expected:?} columns, rows, channels"));
    }
    let bytes = std::fs::read(folder.join("expected").join(expected)).unwrap();
    let expected = bytes.chunks_exact(4).map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
    let (mut worst, mut count) = (0.0_f32, 0);
    for (i, expected) in expected.enumerate() {
        let off = (planes[i % entry.channels].samples()[i / entry.channels] - expected).abs();
        worst = worst.max(off);
        count += usize::from(off > entry.tolerance);
    }
    match count {
        0 => Outcome::Equal,
        n => Outcome::Different(format!("{n} of {} samples, by up to {worst}", bytes.len() / 4)),
    }
}

/// The largest resident size so far, kB (proc(5), VmHWM); nothing where there is no such count.
fn peak_kb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.split_whitespace().next()).map_or(0, |n| n.parse().unwrap())
}

#[test]
fn every_foreign_picture_is_read_as_others_read_it_or_refused_in_words() {
    let Some(folder) = folder() else { return };
    let manifest = std::fs::read_to_string(folder.join("manifest.json")).unwrap();
    let entries: Vec<Entry> = serde_json::from_str(&manifest).unwrap();
    let mut counts: BTreeMap<(String, &str), usize> = BTreeMap::new();
    let mut wrong = Vec::new();
    for entry in &entries {
        let started = Instant::now();
        let outcome = outcome(&folder, entry);
        if started.elapsed() > Duration::from_secs(5) {
            wrong.push(format!("{} took {:?}", entry.name, started.elapsed()));
        }
        let word = match &outcome {
            Outcome::Equal => "equal",
            Outcome::Different(_) => "different",
            Outcome::Alone => "read by us alone",
            Outcome::Refused(_) => "refused by name",
            Outcome::Broken(_) => "refused as broken",
            Outcome::Foreign => "not our format",
        };
        *counts.entry((entry.kind.clone(), word)).or_default() += 1;
        if !matches!(outcome, Outcome::Equal | Outcome::Foreign) {
            eprintln!("{}: {outcome:?}", entry.name);
        }
        if let Outcome::Different(how) = outcome
            && !EXPLAINED.iter().any(|(name, _)| *name == entry.name)
        {
            wrong.push(format!("{}: {how}", entry.name));
        }
    }
    eprintln!("{counts:#?}\npeak {} kB", peak_kb());
    assert!(wrong.is_empty(), "{wrong:#?}");
    for (name, reason) in BROKEN {
        let entry = entries.iter().find(|entry| entry.name == name).unwrap_or_else(|| panic!("{name} is missing"));
        let outcome = outcome(&folder, entry);
        assert!(matches!(&outcome, Outcome::Broken(why) if why.contains("damaged")), "{name}: {outcome:?}; {reason}");
    }
    assert!(entries.len() > 700, "the folder is not complete: {} files", entries.len());
    // Whatever is refused is no more than this; a reader that gives up on everything would pass otherwise.
    let of = |word: &str| counts.iter().filter(|((_, w), _)| *w == word).map(|(_, n)| n).sum::<usize>();
    assert!(of("equal") >= 525 && of("refused by name") <= 35 && of("refused as broken") <= 15, "{counts:?}");
    assert!(peak_kb() < 500_000, "{} kB", peak_kb());
}

/// Files that are read otherwise than their reference, and why that is right or cannot be helped.
const EXPLAINED: [(&str, &str); 2] = [
    ("app13.jpg", "4 x 4 pixels of which the colours are stored as 2 x 2: the two decoders smooth them differently"),
    ("tiff_tiled_jpeg_oob_read.tif", "the reference is laid out wrongly; 480 x 360 is what the header says"),
];

/// Files that others show as they can, and that are no picture: here they are refused.
const BROKEN: [(&str, &str); 1] = [(
    "hopper_bad_exif.jpg",
    "its blocks run past their 64 coefficients from the first restart interval on and hold codes that its tables do not know: \
     stripes and noise are what is shown elsewhere",
)];
