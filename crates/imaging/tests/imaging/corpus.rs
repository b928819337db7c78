//! Files made by other people's programs (see `checks/make_corpus.py`), in the folder that CLOSEWORK_CORPUS names.
//!
//! `./test` makes the folder. Without it the check fails, unless CLOSEWORK_WITHOUT_CORPUS=1 says that this is meant.

use std::path::{Path, PathBuf};

use crate::common::{Random, channels_of};
use imaging::{Scan, ToneChoice};
use planes::Region;
use testkit::assert_close;

fn folder() -> Option<PathBuf> {
    let folder = std::env::var_os("CLOSEWORK_CORPUS").map(PathBuf::from);
    if folder.is_none() {
        let meant = std::env::var("CLOSEWORK_WITHOUT_CORPUS").is_ok_and(|v| v == "1");
        assert!(
            meant,
            "CLOSEWORK_CORPUS names no folder: run ./test, which makes it, or set CLOSEWORK_WITHOUT_CORPUS=1"
        );
        eprintln!("NOT CHECKED: files of other programs, because CLOSEWORK_WITHOUT_CORPUS=1 is set");
    }
    folder
}

/// A line of the manifest with a size.
struct Sized<'a> {
    name: &'a str,
    width: u32,
    height: u32,
    channels: usize,
    tolerance: f64,
    expected: &'a str,
}

fn sized<'a>(fields: &[&'a str]) -> Sized<'a> {
    let [_, name, width, height, channels, tolerance, expected] = fields else { panic!("a line of {fields:?}") };
    let whole = |text: &str| text.parse::<u32>().unwrap();
    Sized {
        name,
        width: whole(width),
        height: whole(height),
        channels: whole(channels) as usize,
        tolerance: tolerance.parse().unwrap(),
        expected,
    }
}

fn check_encoded(folder: &Path, line: &Sized<'_>) {
    let mut scan = Scan::open(&folder.join(line.name)).unwrap();
    let info = scan.info();
    assert_eq!((info.width, info.height), (line.width, line.height), "{}", line.name);
    assert_eq!(info.colour.channels(), line.channels, "{}", line.name);
    // PNG's palettes and low depths are widened to 8 bits by the reader.
    let full_scale = if info.bits == 16 { 65_535.0 } else { 255.0 };
    let reading = scan.read_encoded(scan.whole()).unwrap_or_else(|e| panic!("{e}"));
    let bytes = std::fs::read(folder.join(line.expected)).unwrap();
    let expected: Vec<u16> = bytes.chunks_exact(2).map(|b| u16::from_le_bytes([b[0], b[1]])).collect();
    let planes = channels_of(&reading.picture);
    assert_eq!(expected.len(), planes.iter().map(|p| p.samples().len()).sum::<usize>(), "{}", line.name);
    for (i, &expected) in expected.iter().enumerate() {
        let found = f64::from(planes[i % line.channels].samples()[i / line.channels]) * full_scale;
        // A tolerance of no steps still lets single precision have its last digit.
        assert_close!(found, f64::from(expected), absolute = line.tolerance + 0.01, "{} sample {i}", line.name);
    }
    check_regions(&mut scan, line.name);
}

/// Parts must be what the whole shows there, however strips and tiles cut it.
fn check_regions(scan: &mut Scan, name: &str) {
    let whole = scan.whole();
    let all = scan.read_linear(whole, ToneChoice::Icc).unwrap().picture;
    let mut random = Random::new(name.len() as u64);
    for _ in 0..6 {
        let region = random.region(whole.width, whole.height);
        let part = scan.read_linear(region, ToneChoice::Icc).unwrap().picture;
        for (part, all) in channels_of(&part).iter().zip(channels_of(&all)) {
            for (x, y) in (0..region.height).flat_map(|y| (0..region.width).map(move |x| (x, y))) {
                let there = all.at((region.x + x) as usize, (region.y + y) as usize);
                assert!(part.at(x as usize, y as usize) == there, "{name} {region:?} at {x}, {y}");
            }
        }
    }
}

fn check_shares(folder: &Path, line: &Sized<'_>) {
    let mut scan = Scan::open(&folder.join(line.name)).unwrap();
    let reading = scan.read_encoded(scan.whole()).unwrap_or_else(|e| panic!("{e}"));
    let bytes = std::fs::read(folder.join(line.expected)).unwrap();
    let planes = channels_of(&reading.picture);
    assert_eq!((planes.len(), planes[0].width()), (line.channels, line.width as usize), "{}", line.name);
    assert_eq!(bytes.len(), planes.iter().map(|p| 4 * p.samples().len()).sum::<usize>(), "{}", line.name);
    let expected = bytes.chunks_exact(4).map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
    for (i, expected) in expected.enumerate() {
        let found = planes[i % line.channels].samples()[i / line.channels];
        assert_close!(f64::from(found), f64::from(expected), absolute = line.tolerance, "{} sample {i}", line.name);
    }
    check_regions(&mut scan, line.name);
}

fn check_linear(folder: &Path, line: &Sized<'_>) {
    let mut scan = Scan::open(&folder.join(line.name)).unwrap();
    let whole = Region { x: 0, y: 0, width: line.width, height: line.height };
    let reading = scan.read_linear(whole, ToneChoice::Icc).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(reading.tone.label(), "icc", "{}: {:?}", line.name, reading.remarks);
    let bytes = std::fs::read(folder.join(line.expected)).unwrap();
    let expected = bytes.chunks_exact(4).map(|b| f32::from_le_bytes([b[0], b[1], b[2], b[3]]));
    let planes = channels_of(&reading.picture);
    let mut worst = 0.0_f64;
    for (i, expected) in expected.enumerate() {
        let found = f64::from(planes[i % line.channels].samples()[i / line.channels]);
        worst = worst.max((found - f64::from(expected)).abs());
        assert_close!(found, f64::from(expected), absolute = line.tolerance, "{} sample {i}", line.name);
    }
    eprintln!("{}: at most {worst:.2e} from the reference", line.name);
}

fn check_refused(folder: &Path, name: &str, words: &str) {
    let opened = Scan::open(&folder.join(name)).and_then(|mut scan| scan.read_encoded(scan.whole()).map(|_| ()));
    let message = opened.expect_err(name).to_string();
    assert!(message.contains(words), "{message} should say {words}");
}

#[test]
fn foreign_files_are_read_as_their_makers_meant_them() {
    let Some(folder) = folder() else { return };
    let manifest = std::fs::read_to_string(folder.join("manifest.tsv")).unwrap();
    let mut counts = [0; 4];
    for line in manifest.lines() {
        let fields: Vec<&str> = line.split('\t').collect();
        match fields[0] {
            "encoded" => check_encoded(&folder, &sized(&fields)),
            "shares" => check_shares(&folder, &sized(&fields)),
            "linear" => check_linear(&folder, &sized(&fields)),
            "refused" => check_refused(&folder, fields[1], fields[2]),
            other => panic!("the manifest holds {other}"),
        }
        counts[["encoded", "linear", "refused", "shares"].iter().position(|k| *k == fields[0]).unwrap()] += 1;
    }
    eprintln!("{counts:?} files by samples, by light, by refusal, by shares");
    assert!(
        counts[0] > 250 && counts[1] >= 15 && counts[2] >= 8 && counts[3] > 100,
        "the corpus is not complete: {counts:?}"
    );
}
