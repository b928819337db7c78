//! The pyramid of a picture is the same however it lies in its file, and equals a plain downscale in double precision.

use std::ops::ControlFlow;
use std::path::Path;

use crate::layouts::{Layout, file, one_strip};
use imaging::Scan;
use imaging::pyramid::{self, Options};
use planes::{Channels, Region, srgb_decode, srgb_encode};
use testkit::assert_close;
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::{bytestream::ZCursor, colorspace::ColorSpace, options::DecoderOptions};

const OPTIONS: Options = Options { tile: 64, quality: 100 };

/// Slopes that differ in every direction and channel, so that whatever is exchanged or shifted shows.
fn sample(x: u32, y: u32, c: u32) -> u16 {
    let wave = |v: u32, period: f64| (f64::from(v) / period).sin();
    let value = 0.5 + 0.2 * wave(x, 23.0 + 7.0 * f64::from(c)) + 0.2 * wave(y, 31.0 - 5.0 * f64::from(c));
    (value * 65_535.0) as u16
}

/// Levels as light, pixel by pixel.
struct Light {
    width: usize,
    height: usize,
    channels: usize,
    samples: Vec<f64>,
}

impl Light {
    fn of(layout: &Layout) -> Self {
        let (width, height, channels) = (layout.width as usize, layout.height as usize, layout.channels as usize);
        let share = |v: u16| if layout.bits == 8 { f64::from(v >> 8) / 255.0 } else { f64::from(v) / 65_535.0 };
        let at = |i: usize| {
            let (pixel, c) = (i / channels, i % channels);
            srgb_decode(share(sample((pixel % width) as u32, (pixel / width) as u32, c as u32)))
        };
        Self { width, height, channels, samples: (0..width * height * channels).map(at).collect() }
    }

    fn halved(&self) -> Self {
        let (width, height, channels) = (self.width.div_ceil(2), self.height.div_ceil(2), self.channels);
        let at = |x: usize, y: usize, c: usize| {
            self.samples[(y.min(self.height - 1) * self.width + x.min(self.width - 1)) * channels + c]
        };
        let mean = |i: usize| {
            let (x, y, c) = (i / channels % width * 2, i / channels / width * 2, i % channels);
            (at(x, y, c) + at(x + 1, y, c) + at(x, y + 1, c) + at(x + 1, y + 1, c)) / 4.0
        };
        Self { width, height, channels, samples: (0..width * height * channels).map(mean).collect() }
    }
}

/// Every pixel of every tile of every level.
fn check(layout: &Layout, folder: &Path) {
    let path = folder.join("scan.tif");
    std::fs::write(&path, file(layout, sample)).unwrap();
    let out = folder.join("tiles");
    let mut scan = Scan::open(&path).unwrap();
    let pyramid = pyramid::build(&mut scan, &out, OPTIONS, &mut |_| ControlFlow::Continue(())).unwrap();
    assert_eq!(pyramid::load(&out).unwrap(), pyramid);
    let mut light = Light::of(layout);
    for level in 0..pyramid.levels {
        assert_eq!(pyramid.level_size(level), Some((light.width as u32, light.height as u32)), "{layout:?}");
        let (columns, rows) = pyramid.grid(level).unwrap();
        for (column, row) in (0..rows).flat_map(|row| (0..columns).map(move |column| (column, row))) {
            let bytes = std::fs::read(pyramid::tile_path(&out, level, column, row).unwrap()).unwrap();
            let space = if light.channels == 3 { ColorSpace::RGB } else { ColorSpace::Luma };
            let options = DecoderOptions::default().jpeg_set_out_colorspace(space);
            let mut decoder = JpegDecoder::new_with_options(ZCursor::new(&bytes[..]), options);
            let found = decoder.decode().unwrap();
            let (width, height) = decoder.dimensions().unwrap();
            let (left, top) = (column as usize * 64, row as usize * 64);
            assert_eq!((width, height), (64.min(light.width - left), 64.min(light.height - top)), "{layout:?}");
            for (i, &found) in found.iter().enumerate() {
                let (pixel, c) = (i / light.channels, i % light.channels);
                let (x, y) = (left + pixel % width, top + pixel / width);
                let expected = srgb_encode(light.samples[(y * light.width + x) * light.channels + c]) * 255.0;
                // JPEG at quality 100: half a step each for three colours, the transform and what is shown.
                assert_close!(f64::from(found), expected, absolute = 3.0, "{layout:?} level {level} at {x}, {y}, {c}");
            }
        }
        light = light.halved();
    }
}

fn check_all(layouts: &[Layout]) {
    for layout in layouts {
        let folder = tempfile::tempdir().unwrap();
        check(layout, folder.path());
    }
}

#[test]
fn one_strip_packed_in_every_way() {
    for compression in [1, 5, 8] {
        let plain = one_strip(150, 333, compression);
        check_all(&[plain, Layout { differences: compression != 1, orientation: 1, ..plain }]);
    }
}

#[test]
fn strips_of_every_height() {
    // Less than a part, a part, no multiple of one, and more than one.
    for strip in [1, 5, 32, 48, 100] {
        for compression in [1, 5, 8] {
            check_all(&[Layout { strip, differences: strip == 5, ..one_strip(97, 210, compression) }]);
        }
    }
}

#[test]
fn tiles_planes_and_eight_bits() {
    let base = one_strip(133, 301, 8);
    check_all(&[
        Layout { tile: Some((48, 80)), ..base },
        Layout { tile: Some((32, 16)), planar: true, compression: 5, ..base },
        Layout { planar: true, strip: 7, ..base },
        Layout { planar: true, compression: 1, ..base },
        Layout { bits: 8, strip: 16, ..base },
        Layout { bits: 8, channels: 1, compression: 5, ..base },
        Layout { channels: 1, strip: 3, differences: true, ..base },
    ]);
}

#[test]
fn odd_sizes() {
    for (width, height) in [(1, 1), (2, 1), (1, 3), (65, 63), (513, 511), (1, 5000), (5000, 1)] {
        check_all(&[one_strip(width, height, 1), Layout { strip: height.min(9), ..one_strip(width, height, 8) }]);
    }
}

#[test]
fn regions_of_wide_files_are_the_same_however_they_are_packed() {
    // Rows of more than 8 kB, of which only the wanted columns are read when nothing is compressed.
    let base = one_strip(3001, 40, 1);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("scan.tif");
    let eight = Layout { bits: 8, width: 9001, ..base };
    let layouts = [
        base,
        Layout { strip: 7, ..base },
        Layout { strip: 7, planar: true, width: 6001, ..base },
        Layout { channels: 1, width: 6001, ..base },
        Layout { differences: true, ..base },
        Layout { tile: Some((3008, 16)), ..base },
        Layout { compression: 5, ..base },
        Layout { compression: 8, strip: 9, differences: true, ..base },
        eight,
    ];
    for layout in layouts {
        std::fs::write(&path, file(&layout, sample)).unwrap();
        let mut scan = Scan::open(&path).unwrap();
        let width = layout.width;
        for (x, y, width, height) in [(0, 0, 5, 40), (width - 6, 33, 6, 7), (1234, 6, 3, 9), (7, 39, width - 7, 1)] {
            let region = Region { x, y, width, height };
            let found = scan.read_encoded(region).unwrap();
            let planes = match found.picture.channels() {
                Channels::Grey(plane) => std::slice::from_ref(plane),
                Channels::Rgb { planes, .. } => planes.as_slice(),
            };
            assert_eq!(planes.len(), layout.channels as usize);
            for (c, plane) in (0..).zip(planes) {
                for (i, j) in (0..height).flat_map(|j| (0..width).map(move |i| (i, j))) {
                    let stored = sample(x + i, y + j, c);
                    let share =
                        if layout.bits == 8 { f64::from(stored >> 8) / 255.0 } else { f64::from(stored) / 65_535.0 };
                    let found = f64::from(plane.at(i as usize, j as usize));
                    // Single precision's last digit.
                    assert_close!(found, share, absolute = 1e-7, "{layout:?} {region:?} at {i}, {j}, {c}");
                }
            }
        }
    }
}
