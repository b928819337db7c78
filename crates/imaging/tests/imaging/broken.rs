//! Files that are damaged, cut short, or made to mislead: refused in words, or read; never a panic.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::time::{Duration, Instant};

use crate::common::{self, Random};
use crate::{absurd, files};
use imaging::{Fault, ImagingError, Scan, ToneChoice};
use planes::Region;

/// Largest side of what is read from a file that may declare anything.
const SIDE: u32 = 300;

/// Opens a file and reads its upper left corner; the number of samples.
fn use_file(path: &Path) -> Result<usize, ImagingError> {
    let mut scan = Scan::open(path)?;
    let whole = scan.whole();
    let region = Region { width: whole.width.min(SIDE), height: whole.height.min(SIDE), ..whole };
    let reading = scan.read_linear(region, ToneChoice::Icc)?;
    let planes = common::channels_of(&reading.picture);
    assert!(planes.iter().all(|p| p.samples().iter().all(|v| (0.0..=1.0).contains(v))), "light outside 0 to 1");
    Ok(planes.iter().map(|p| p.samples().len()).sum())
}

fn write(folder: &Path, name: &str, bytes: &[u8]) -> std::path::PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

#[test]
fn absurd_files_are_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let files = absurd::all();
    assert!(files.len() > 50);
    let mut wrong = Vec::new();
    for (name, bytes, words) in files {
        let result = use_file(&write(folder.path(), name, &bytes));
        // Some may be opened, by one reading or another of their standard: those have no words.
        match result.map_err(|error| error.to_string()) {
            Ok(_) if !words.is_empty() => wrong.push(format!("{name} was read; it should be refused with {words:?}")),
            Err(message) if !message.contains(words) => wrong.push(format!("{message} should say {words:?}")),
            _ => {}
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn refusals_name_the_file_and_have_a_kind_of_their_own() {
    let folder = tempfile::tempdir().unwrap();
    let refused = |name: &str, bytes: &[u8]| use_file(&write(folder.path(), name, bytes)).unwrap_err();
    let empty = refused("nothing.tif", b"");
    assert!(matches!(empty.fault, Fault::Truncated(_)) && empty.to_string().contains("nothing.tif"));
    assert!(matches!(refused("letter.tif", b"Dear colleague").fault, Fault::NotAPicture));
    let huge = refused("huge.tif", &absurd::tiff(&absurd::grey(1 << 31, 1 << 31, 1, 40), &[0; 40]));
    assert!(matches!(huge.fault, Fault::TooManyPixels { width: 0x8000_0000, height: 0x8000_0000 }));
    assert!(matches!(use_file(folder.path()).unwrap_err().fault, Fault::NotAFile));
    assert!(matches!(use_file(&folder.path().join("absent.tif")).unwrap_err().fault, Fault::Read(_)));
}

#[test]
#[cfg(unix)]
fn a_pipe_is_refused_without_waiting_for_a_writer() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pipe.tif");
    // No pipe without the program that makes one; it belongs to every Unix (POSIX.1-2017, utilities).
    assert!(std::process::Command::new("mkfifo").arg(&path).status().unwrap().success());
    assert!(matches!(use_file(&path).unwrap_err().fault, Fault::NotAFile));
}

#[test]
fn a_region_must_lie_in_the_picture_and_fit_into_memory() {
    let folder = tempfile::tempdir().unwrap();
    let mut scan = Scan::open(&write(folder.path(), "bomb.png", &absurd::bomb())).unwrap();
    let too_large = scan.read_linear(scan.whole(), ToneChoice::Icc).unwrap_err();
    assert!(matches!(too_large.fault, Fault::RegionTooLarge { needed: 1_600_000_000, .. }), "{too_large}");
    for region in [
        Region { x: 20_000, y: 0, width: 1, height: 1 },
        Region { x: 0, y: 0, width: 0, height: 1 },
        Region { x: u32::MAX, y: 0, width: 2, height: 1 },
        Region { x: 0, y: 19_999, width: 1, height: 2 },
    ] {
        let outside = scan.read_linear(region, ToneChoice::Icc).unwrap_err();
        assert!(matches!(outside.fault, Fault::RegionOutside { .. }), "{region:?}: {outside}");
    }
}

/// Numbers that are interesting where a count, a size or a place is expected.
const NUMBERS: [u32; 10] = [0, 1, 2, 255, 256, 65_535, 65_536, 0x7fff_ffff, 0x8000_0000, u32::MAX];

/// One to four spoilt places: bytes, bits, numbers, pieces cut out, doubled, exchanged, or the end cut off.
fn spoil(random: &mut Random, good: &[u8]) -> Vec<u8> {
    let mut bytes = good.to_vec();
    for _ in 0..=random.below(4) {
        // Headers and directories are worth more tries than samples.
        let limit = if random.below(3) == 0 { bytes.len() } else { bytes.len().min(600) };
        let at = random.below(limit);
        match random.below(7) {
            0 => bytes[at] = random.below(256) as u8,
            1 => bytes[at] ^= 1 << random.below(8),
            2 => {
                let number = NUMBERS[random.below(NUMBERS.len())];
                let number = if random.below(2) == 0 { number.to_le_bytes() } else { number.to_be_bytes() };
                bytes.iter_mut().skip(at).zip(number).for_each(|(b, n)| *b = n);
            }
            3 => {
                let end = (at + 1 + random.below(20)).min(bytes.len());
                bytes.drain(at..end);
            }
            4 => {
                let end = (at + 1 + random.below(40)).min(bytes.len());
                let piece = bytes[at..end].to_vec();
                bytes.splice(at..at, piece);
            }
            5 => {
                let other = random.below(bytes.len());
                bytes.swap(at, other);
            }
            _ => bytes.truncate(at + random.below(bytes.len() - at)),
        }
        if bytes.is_empty() {
            break;
        }
    }
    bytes
}

/// Spoils each file so many times; the outcome of each must be a reading or a refusal.
fn spoil_all(files: &[(String, Vec<u8>)], times: usize) {
    let folder = tempfile::tempdir().unwrap();
    let (mut read, mut refused, mut slowest) = (0, 0, (Duration::ZERO, String::new()));
    for (number, (name, good)) in files.iter().enumerate() {
        for seed in 0..times {
            let mut random = Random::new((number * 1_000_003 + seed) as u64);
            let path = write(folder.path(), name, &spoil(&mut random, good));
            let started = Instant::now();
            let outcome = catch_unwind(AssertUnwindSafe(|| use_file(&path)));
            let what = || format!("{name} spoilt with seed {seed}");
            if started.elapsed() > slowest.0 {
                slowest = (started.elapsed(), what());
            }
            match outcome.unwrap_or_else(|_| panic!("{} made the reader panic", what())) {
                Ok(_) => read += 1,
                Err(error) => {
                    refused += 1;
                    assert!(!error.to_string().is_empty());
                }
            }
        }
    }
    eprintln!("{read} read, {refused} refused; slowest {:?}: {}", slowest.0, slowest.1);
    assert!(refused > (read + refused) / 5, "the files are hardly spoilt: {read} read, {refused} refused");
}

/// How often each file is spoilt: CLOSEWORK_LONG=1 makes the search a long one.
fn times(short: usize, long: usize) -> usize {
    testkit::short_or_long(short, long)
}

#[test]
fn spoilt_files_are_read_or_refused_but_never_bring_the_reader_down() {
    let folder = tempfile::tempdir().unwrap();
    let files = files::good_files(folder.path());
    for (name, bytes) in &files {
        let samples = use_file(&write(folder.path(), name, bytes)).unwrap();
        assert!(samples == 61 * 47 || samples == 3 * 61 * 47, "{name} unspoilt gives {samples} samples");
    }
    spoil_all(&files, times(40, 4000));
}

#[test]
fn spoilt_foreign_files_too() {
    let Some(folder) = std::env::var_os("CLOSEWORK_CORPUS") else {
        return eprintln!("CLOSEWORK_CORPUS is not set: no foreign files are spoilt");
    };
    let picture = |name: &str| [".tif", ".png", ".jpg"].iter().any(|end| name.ends_with(end));
    let mut files: Vec<(String, Vec<u8>)> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| (path.file_name().unwrap().to_string_lossy().into_owned(), path))
        .filter(|(name, _)| picture(name))
        .map(|(name, path)| (name, std::fs::read(path).unwrap()))
        .collect();
    files.sort();
    spoil_all(&files, times(4, 200));
}

#[test]
fn every_cut_of_a_file_is_refused_or_read_without_what_is_missing() {
    let folder = tempfile::tempdir().unwrap();
    for (name, good) in files::good_files(folder.path()) {
        let ends = (0..good.len()).step_by((good.len() / 60).max(1));
        for end in ends {
            let path = write(folder.path(), &name, &good[..end]);
            let outcome = use_file(&path);
            // A picture may be whole when only what follows it is missing; half of it never is.
            assert!(outcome.is_err() || end > good.len() / 2, "{name} cut at {end} of {} was read", good.len());
        }
    }
}
