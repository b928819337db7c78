//! The viewing pyramid against what its definition says: halved in linear light, turned as shown, cut into tiles.

use std::ops::ControlFlow;
use std::path::Path;

use crate::absurd::{SHORT, grey, tiff, with};
use imaging::pyramid::{self, Options, Pyramid};
use imaging::{Fault, Orientation, Scan};
use planes::{srgb_decode, srgb_encode};
use testkit::assert_close;
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::{bytestream::ZCursor, colorspace::ColorSpace, options::DecoderOptions};

const WIDTH: usize = 45;
const HEIGHT: usize = 37;
const OPTIONS: Options = Options { tile: 16, quality: 98 };

/// A smooth slope without symmetry, so that a tile that is turned or exchanged shows.
fn stored(x: usize, y: usize) -> u8 {
    (30 + 3 * x + 2 * y) as u8
}

fn write_scan(folder: &Path, orientation: u32) -> Scan {
    let samples: Vec<u8> = (0..WIDTH * HEIGHT).map(|i| stored(i % WIDTH, i / WIDTH)).collect();
    let tags = with(grey(WIDTH as u32, HEIGHT as u32, 1, samples.len() as u32), (274, SHORT, vec![orientation]));
    let path = folder.join(format!("turned-{orientation}.tif"));
    std::fs::write(&path, tiff(&tags, &samples)).unwrap();
    Scan::open(&path).unwrap()
}

fn build(scan: &mut Scan, folder: &Path) -> Pyramid {
    pyramid::build(scan, folder, OPTIONS, &mut |_| ControlFlow::Continue(())).unwrap()
}

/// A level as shown: columns, and linear light row by row.
struct Light {
    width: usize,
    samples: Vec<f64>,
}

impl Light {
    /// The picture as shown, from TIFF 6.0, page 36: each tag's value by where stored row 0 and column 0 are shown.
    fn shown(orientation: u32) -> Self {
        let (width, height) = if orientation > 4 { (HEIGHT, WIDTH) } else { (WIDTH, HEIGHT) };
        let at = |x: usize, y: usize| {
            let (right, bottom) = (width - 1 - x, height - 1 - y);
            let (column, row) = match orientation {
                1 => (x, y),
                2 => (right, y),
                3 => (right, bottom),
                4 => (x, bottom),
                5 => (y, x),
                6 => (y, right),
                7 => (bottom, right),
                _ => (bottom, x),
            };
            srgb_decode(f64::from(stored(column, row)) / 255.0)
        };
        Self { width, samples: (0..width * height).map(|i| at(i % width, i / width)).collect() }
    }

    fn height(&self) -> usize {
        self.samples.len() / self.width
    }

    /// Mean of two by two; what is odd at the right and lower ends stands alone.
    fn halved(&self) -> Self {
        let (width, height) = (self.width.div_ceil(2), self.height().div_ceil(2));
        let at = |x: usize, y: usize| self.samples[y.min(self.height() - 1) * self.width + x.min(self.width - 1)];
        let mean = |x: usize, y: usize| {
            (at(2 * x, 2 * y) + at(2 * x + 1, 2 * y) + at(2 * x, 2 * y + 1) + at(2 * x + 1, 2 * y + 1)) / 4.0
        };
        Self { width, samples: (0..width * height).map(|i| mean(i % width, i / width)).collect() }
    }
}

/// A tile's bytes, its columns and rows, by a JPEG decoder.
fn tile(folder: &Path, level: u32, column: u32, row: u32) -> (Vec<u8>, usize, usize) {
    let path = pyramid::tile_path(folder, level, column, row).unwrap();
    let bytes = std::fs::read(path).unwrap();
    let options = DecoderOptions::default().jpeg_set_out_colorspace(ColorSpace::Luma);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(&bytes[..]), options);
    let samples = decoder.decode().unwrap();
    let (width, height) = decoder.dimensions().unwrap();
    (samples, width, height)
}

fn check_level(folder: &Path, level: u32, light: &Light, what: &str) {
    let side = OPTIONS.tile as usize;
    for row in 0..light.height().div_ceil(side) {
        for column in 0..light.width.div_ceil(side) {
            let (samples, width, height) = tile(folder, level, column as u32, row as u32);
            assert_eq!(width, side.min(light.width - column * side), "{what} tile {column}, {row}");
            assert_eq!(height, side.min(light.height() - row * side), "{what} tile {column}, {row}");
            for (i, &found) in samples.iter().enumerate() {
                let (x, y) = (column * side + i % width, row * side + i / width);
                let expected = srgb_encode(light.samples[y * light.width + x]) * 255.0;
                // JPEG at quality 98 on a slope, where the last columns of a tile are padded.
                assert_close!(f64::from(found), expected, absolute = 3.0, "{what} at {x}, {y}");
            }
        }
    }
}

#[test]
fn every_level_of_every_orientation_shows_the_scan_halved_in_linear_light() {
    for orientation in 1..=8 {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("tiles");
        let mut scan = write_scan(folder.path(), orientation);
        assert_eq!(scan.info().orientation, Orientation::from_tag(orientation).unwrap());
        let pyramid = build(&mut scan, &out);
        assert_eq!(pyramid::load(&out).unwrap(), pyramid);
        // 45, 23, 12: the third level fits into a tile of 16.
        assert_eq!(pyramid.levels, 3);
        let mut light = Light::shown(orientation);
        for level in 0..pyramid.levels {
            let size = (light.width as u32, light.height() as u32);
            assert_eq!(pyramid.level_size(level), Some(size));
            check_level(&out, level, &light, &format!("orientation {orientation}, level {level}"));
            light = light.halved();
        }
        assert_eq!(pyramid::tile_path(&out, 3, 0, 0), None);
        assert_eq!(pyramid::tile_path(&out, 0, 3, 0), None);
    }
}

#[test]
fn stopping_leaves_nothing_and_keeps_what_was_there() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("tiles");
    let mut scan = write_scan(folder.path(), 1);
    let stop = |scan: &mut Scan| pyramid::build(scan, &out, OPTIONS, &mut |_| ControlFlow::Break(())).unwrap_err();
    assert!(matches!(stop(&mut scan).fault, Fault::Cancelled));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "the scan alone");
    let finished = build(&mut scan, &out);
    assert!(matches!(stop(&mut scan).fault, Fault::Cancelled));
    assert_eq!(pyramid::load(&out).unwrap(), finished);
}

#[test]
fn a_new_pyramid_replaces_the_old_one() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("tiles");
    build(&mut write_scan(folder.path(), 1), &out);
    std::fs::write(out.join("left-over"), b"").unwrap();
    let turned = build(&mut write_scan(folder.path(), 6), &out);
    assert_eq!((turned.width, turned.height), (HEIGHT as u32, WIDTH as u32));
    assert!(!out.join("left-over").exists());
}

#[test]
fn a_damaged_scan_leaves_no_pyramid() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("damaged.tif");
    std::fs::write(&path, tiff(&grey(40, 40, 8, 40), &[0x5a; 40])).unwrap();
    let out = folder.path().join("tiles");
    let result = pyramid::build(&mut Scan::open(&path).unwrap(), &out, OPTIONS, &mut |_| ControlFlow::Continue(()));
    assert!(matches!(result.unwrap_err().fault, Fault::Damaged(_)));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "the scan alone");
}

#[test]
fn descriptions_that_contradict_themselves_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("tiles");
    assert!(matches!(pyramid::load(&out).unwrap_err().fault, Fault::Pyramid(_)), "there is none");
    build(&mut write_scan(folder.path(), 1), &out);
    let description = std::fs::read_dir(&out).unwrap().map(|e| e.unwrap().path()).find(|p| p.is_file()).unwrap();
    let good = std::fs::read_to_string(&description).unwrap();
    for (from, to) in [
        ("45", "0"),
        ("45", "450"),
        ("\"levels\":3", "\"levels\":40"),
        ("\"version\":2", "\"version\":3"),
        ("16", "0"),
        ("{", "{\"x\":1,"),
    ] {
        assert!(good.contains(from), "{good}");
        std::fs::write(&description, good.replacen(from, to, 1)).unwrap();
        assert!(matches!(pyramid::load(&out).unwrap_err().fault, Fault::Pyramid(_)), "{from} replaced by {to}");
    }
}

#[test]
fn a_description_without_a_version_is_of_the_first() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("tiles");
    let built = build(&mut write_scan(folder.path(), 1), &out);
    std::fs::write(out.join("pyramid.json"), r#"{"width":45,"height":37,"tile":16,"levels":3}"#).unwrap();
    assert_eq!(pyramid::load(&out).unwrap(), built);
}

/// An even-handed picture for pieces: light rises with the column alone, straight in linear light.
fn sloped(folder: &Path) -> Pyramid {
    let path = folder.join("slope.tif");
    imaging::write_tiff_rgb16(&path, 400, 120, None, None, |_, row| {
        for (x, pixel) in row.chunks_mut(3).enumerate() {
            let light = 0.1 + 0.8 * (x as f64 + 0.5) / 400.0;
            pixel.fill((65_535.0 * srgb_encode(light)).round() as u16);
        }
        ControlFlow::Continue(())
    })
    .unwrap();
    let options = Options { tile: 64, quality: 98 };
    pyramid::build(&mut Scan::open(&path).unwrap(), &folder.join("slope"), options, &mut |_| ControlFlow::Continue(()))
        .unwrap()
}

#[test]
fn pieces_show_the_same_light_at_every_scale() {
    // Law: along a straight slope the light at a place is the same, enlarged or reduced, across borders of tiles. JPEG of
    // quality 98 is off by about a step of 255 (sRGB's slope is at most 1.4 here).
    let folder = tempfile::tempdir().unwrap();
    let pyramid = sloped(folder.path());
    for (step, size) in [(0.25, (200, 80)), (1.0, (150, 60)), (1.6, (150, 50)), (2.5, (100, 40))] {
        let piece = pyramid::Piece { centre: (190.3, 60.0), step, size };
        let light = pyramid::piece(&folder.path().join("slope"), &pyramid, &piece).unwrap();
        assert_eq!((light.width, light.height, light.rgb.len()), (size.0, size.1, (size.0 * size.1) as usize));
        for column in [0, size.0 / 3, size.0 - 1] {
            let x = 190.3 + (f64::from(column) + 0.5 - f64::from(size.0) / 2.0) * step;
            let middle = light.rgb[(size.1 / 2 * size.0 + column) as usize];
            for channel in middle {
                assert_close!(
                    f64::from(channel),
                    0.1 + 0.8 * x / 400.0,
                    absolute = 0.008,
                    "step {step}, column {column}"
                );
            }
        }
        // The median of a slope is its middle.
        assert_close!(light.quantile(0.5)[1], 0.1 + 0.8 * 190.3 / 400.0, absolute = 0.008);
    }
}

#[test]
fn a_piece_as_jpeg_is_the_light_times_its_gain() {
    let folder = tempfile::tempdir().unwrap();
    let pyramid = sloped(folder.path());
    let piece = pyramid::Piece { centre: (200.0, 60.0), step: 1.0, size: (64, 64) };
    let light = pyramid::piece(&folder.path().join("slope"), &pyramid, &piece).unwrap();
    let file = light.jpeg([0.5, 1.0, 1.5], 95);
    let options = DecoderOptions::default().jpeg_set_out_colorspace(ColorSpace::RGB);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(&file), options);
    let samples = decoder.decode().unwrap();
    let at = (32 * 64 + 32) * 3;
    for (sample, gain) in samples[at..at + 3].iter().zip([0.5, 1.0, 1.5]) {
        let expected = 255.0 * srgb_encode((0.1 + 0.8 * 200.5 / 400.0) * gain);
        assert_close!(f64::from(*sample), expected, absolute = 3.0);
    }
    // Nothing in it says where it is from: JFIF's own segment and no other of its kind, no comment.
    assert!(!file.windows(2).any(|two| matches!(two, [0xff, 0xe1..=0xef | 0xfe])));
}

#[test]
fn pieces_outside_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let pyramid = sloped(folder.path());
    let refused = |piece| {
        let error = pyramid::piece(&folder.path().join("slope"), &pyramid, &piece).unwrap_err();
        assert!(matches!(error.fault, Fault::RegionOutside { .. }), "{piece:?}: {error}");
    };
    let fine = pyramid::Piece { centre: (200.0, 60.0), step: 1.0, size: (64, 64) };
    refused(pyramid::Piece { centre: (31.0, 60.0), ..fine });
    refused(pyramid::Piece { centre: (200.0, 89.0), ..fine });
    refused(pyramid::Piece { size: (0, 64), ..fine });
    refused(pyramid::Piece { size: (64, pyramid::LONGEST_PIECE + 1), ..fine });
    refused(pyramid::Piece { step: 0.05, ..fine });
    refused(pyramid::Piece { step: f64::NAN, ..fine });
}
