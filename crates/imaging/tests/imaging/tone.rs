//! How a file without a profile says what its samples mean, and that clipping can be told.

use std::io::Write;
use std::path::Path;

use crate::absurd::{DATA_AT, LONG, SHORT, grey, png, tiff, with};
use crate::common::channels_of;
use imaging::{Scan, ToneChoice};
use planes::ToneCurve;
use testkit::assert_close;

fn open(folder: &Path, name: &str, bytes: &[u8]) -> Scan {
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    Scan::open(&path).unwrap()
}

/// A PNG of 256 grey samples, 0 to 255 in a row, with a chunk before them.
fn ramp(chunk: Option<(&[u8; 4], &[u8])>) -> Vec<u8> {
    let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::fast());
    encoder.write_all(&[0]).unwrap();
    encoder.write_all(&(0..=255).collect::<Vec<u8>>()).unwrap();
    let data = encoder.finish().unwrap();
    let mut chunks: Vec<(&[u8; 4], &[u8])> = chunk.into_iter().collect();
    chunks.push((b"IDAT", &data));
    png(256, 1, 8, 0, false, &chunks)
}

fn codes(remarks: &[imaging::Remark]) -> Vec<&'static str> {
    remarks.iter().map(imaging::Remark::code).collect()
}

#[test]
fn a_png_states_its_tone_by_chunks() {
    let folder = tempfile::tempdir().unwrap();
    // PNG specification (third edition), 11.3.2: gAMA holds 100 000 times the exponent from light to sample.
    let gamma = |exponent: u32| exponent.to_be_bytes();
    let (linear, usual, steep) = (gamma(100_000), gamma(45_455), gamma(55_556));
    type Case<'a> = (Option<(&'a [u8; 4], &'a [u8])>, &'a str, ToneCurve, &'a [&'a str]);
    let cases: [Case<'_>; 5] = [
        (None, "srgb", ToneCurve::Srgb, &["srgb-assumed"]),
        (Some((b"sRGB", &[0])), "srgb", ToneCurve::Srgb, &[]),
        (Some((b"gAMA", &linear)), "linear", ToneCurve::Linear, &["tone-declared"]),
        // What every writer of sRGB puts there says no more than nothing.
        (Some((b"gAMA", &usual)), "srgb", ToneCurve::Srgb, &["srgb-assumed"]),
        (Some((b"gAMA", &steep)), "gamma=1.79999", ToneCurve::Gamma(1.8), &["tone-declared"]),
    ];
    for (chunk, label, curve, remarks) in cases {
        let mut scan = open(folder.path(), "ramp.png", &ramp(chunk));
        let reading = scan.read_linear(scan.whole(), ToneChoice::Icc).unwrap();
        assert_eq!((reading.tone.label().as_str(), codes(&reading.remarks).as_slice()), (label, remarks), "{chunk:?}");
        for (i, &light) in channels_of(&reading.picture)[0].samples().iter().enumerate() {
            assert_close!(f64::from(light), curve.decode(i as f64 / 255.0), absolute = 1e-5, "{chunk:?} at {i}");
        }
    }
}

#[test]
fn a_curve_chosen_by_the_caller_goes_before_what_the_file_says() {
    let folder = tempfile::tempdir().unwrap();
    let mut scan = open(folder.path(), "ramp.png", &ramp(Some((b"sRGB", &[0]))));
    let reading = scan.read_linear(scan.whole(), ToneChoice::Curve(ToneCurve::Gamma(2.2))).unwrap();
    assert_eq!(reading.tone.label(), "gamma=2.2");
    assert!(reading.remarks.is_empty());
    // 0.5 to the power of 2.2, near 127.5 of 255.
    let plane = &channels_of(&reading.picture)[0];
    assert_close!(f64::from(plane.at(127, 0)), (127.0_f64 / 255.0).powf(2.2), absolute = 1e-6);
}

#[test]
fn only_clipped_samples_are_exactly_zero_or_one() {
    let folder = tempfile::tempdir().unwrap();
    let values = [0_u16, 1, 2, 65_533, 65_534, 65_535];
    let data: Vec<u8> = values.iter().flat_map(|v| v.to_le_bytes()).collect();
    let tags = with(grey(6, 1, 1, 12), (258, SHORT, vec![16]));
    let mut scan = open(folder.path(), "ends.tif", &tiff(&tags, &data));
    for curve in [ToneCurve::Linear, ToneCurve::Srgb, ToneCurve::Gamma(1.8)] {
        let reading = scan.read_linear(scan.whole(), ToneChoice::Curve(curve)).unwrap();
        let light = channels_of(&reading.picture)[0].samples().to_vec();
        assert!(light[0] == 0.0 && light[5] == 1.0, "{curve:?} {light:?}");
        assert!(light.windows(2).all(|w| w[0] < w[1]), "{curve:?} {light:?}");
    }
}

#[test]
fn the_pitch_comes_from_the_resolution_in_its_unit() {
    let folder = tempfile::tempdir().unwrap();
    // Rationals lie in the data: 4000 to the inch, and the same to the centimetre: 1574.803.
    let rational = |n: u32, d: u32| [n.to_le_bytes(), d.to_le_bytes()].concat();
    for (unit, fraction, expected) in [
        (2, rational(4000, 1), Some(6.35)),
        (3, rational(1_574_803, 1000), Some(6.35)),
        (1, rational(4000, 1), None),
        (2, rational(0, 1), None),
        (2, rational(4000, 0), None),
    ] {
        let data = [&[0_u8; 40][..], &fraction].concat();
        let mut tags = with(grey(4, 10, 1, 40), (296, SHORT, vec![unit]));
        tags = with(with(tags, (282, RATIONAL_AT, vec![DATA_AT + 40])), (283, RATIONAL_AT, vec![DATA_AT + 40]));
        let scan = open(folder.path(), "pitch.tif", &as_rationals(tiff(&tags, &data)));
        match (scan.info().pitch_um, expected) {
            (Some(found), Some(expected)) => assert_close!(found, expected, relative = 1e-6),
            (found, expected) => assert_eq!(found, expected, "unit {unit}"),
        }
    }
}

/// Stands for a place of a rational while the tags are laid out.
const RATIONAL_AT: u16 = 0x7e5;

fn as_rationals(mut file: Vec<u8>) -> Vec<u8> {
    let tags = usize::from(u16::from_le_bytes([file[8], file[9]]));
    for entry in file[10..10 + 12 * tags].chunks_exact_mut(12) {
        if entry[2..4] == RATIONAL_AT.to_le_bytes() {
            entry[2..4].copy_from_slice(&5_u16.to_le_bytes());
        }
    }
    file
}

#[test]
fn an_orientation_that_means_nothing_is_remarked_and_ignored() {
    let folder = tempfile::tempdir().unwrap();
    let tags = with(grey(4, 10, 1, 40), (274, SHORT, vec![9]));
    let scan = open(folder.path(), "odd.tif", &tiff(&tags, &[0; 40]));
    assert_eq!((scan.info().width, codes(&scan.info().remarks)), (4, vec!["orientation-unknown"]));
    let tags = with(grey(4, 10, 1, 40), (330, LONG, vec![8]));
    assert!(open(folder.path(), "sub.tif", &tiff(&tags, &[0; 40])).info().remarks.is_empty());
}
