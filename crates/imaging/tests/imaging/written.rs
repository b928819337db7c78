//! Files that this crate writes, read by the `tiff` crate (an independent reader) and by this crate.

use std::ops::ControlFlow;

use imaging::{Colour, Fault, Scan, TiffWriter, ToneChoice, srgb_profile, write_tiff_rgb16};
use planes::{Channels, Region, ToneCurve};
use testkit::assert_close;

const WIDTH: u32 = 37;
const HEIGHT: u32 = 900;

fn sample(column: usize, row: usize, channel: usize) -> u16 {
    (column * 1771 + row * 37 + channel * 9001) as u16
}

fn write(path: &std::path::Path) {
    let profile = srgb_profile();
    write_tiff_rgb16(path, WIDTH, HEIGHT, Some(25.4), Some(&profile), |row, samples| {
        for (i, v) in samples.iter_mut().enumerate() {
            *v = sample(i / 3, row as usize, i % 3);
        }
        ControlFlow::Continue(())
    })
    .unwrap();
}

#[test]
fn an_independent_reader_finds_every_sample() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("made.tif");
    write(&path);
    let mut decoder = tiff::decoder::Decoder::new(std::fs::File::open(&path).unwrap()).unwrap();
    assert_eq!(decoder.dimensions().unwrap(), (WIDTH, HEIGHT));
    let tiff::decoder::DecodingResult::U16(samples) = decoder.read_image().unwrap() else { panic!("not 16 bit") };
    for (i, &v) in samples.iter().enumerate() {
        let (pixel, channel) = (i / 3, i % 3);
        assert_eq!(v, sample(pixel % WIDTH as usize, pixel / WIDTH as usize, channel));
    }
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 1, "nothing but the file is left");
}

#[test]
fn the_header_says_what_was_written() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("made.tif");
    write(&path);
    let scan = Scan::open(&path).unwrap();
    let info = scan.info();
    assert_eq!((info.width, info.height, info.colour, info.bits), (WIDTH, HEIGHT, Colour::Rgb, 16));
    // Closed form: 25.4 µm are 1000 dpi; the fraction in the file has five digits.
    assert_close!(info.pitch_um.unwrap(), 25.4, relative = 1e-6);
    assert!(info.remarks.is_empty(), "{:?}", info.remarks);
    assert!(info.profile.as_ref().unwrap().description.contains("sRGB"), "{:?}", info.profile);
}

#[test]
fn a_region_holds_the_samples_through_the_curve() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("made.tif");
    write(&path);
    let mut scan = Scan::open(&path).unwrap();
    let region = Region { x: 5, y: 700, width: 20, height: 60 };
    let reading = scan.read_linear(region, ToneChoice::Icc).unwrap();
    assert_eq!(reading.tone.label(), "icc");
    let Channels::Rgb { planes, .. } = reading.picture.channels() else { panic!("grey") };
    for (channel, plane) in planes.iter().enumerate() {
        for (x, y) in (0..60).flat_map(|y| (0..20).map(move |x| (x, y))) {
            let encoded = f64::from(sample(x + 5, y + 700, channel)) / 65535.0;
            // IEC 61966-2-1; the profile's parameters are rounded to 1/65536, which moves the curve by up to 1e-5.
            assert_close!(f64::from(plane.at(x, y)), ToneCurve::Srgb.decode(encoded), absolute = 2e-5);
        }
    }
}

#[test]
fn a_file_that_is_not_finished_leaves_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("made.tif");
    let count = || std::fs::read_dir(dir.path()).unwrap().count();
    let mut writer = TiffWriter::create(&path, 2, 2, None, None).unwrap();
    writer.write_row(&[1; 6]).unwrap();
    let missing = writer.finish().unwrap_err();
    assert!(matches!(missing.fault, Fault::WrongCount { what: "rows", given: 1, expected: 2 }), "{missing}");
    drop(TiffWriter::create(&path, 2, 2, None, None).unwrap());
    let stopped = write_tiff_rgb16(&path, 2, 2, None, None, |_, _| ControlFlow::Break(())).unwrap_err();
    assert!(matches!(stopped.fault, Fault::Cancelled));
    assert_eq!(count(), 0);
}

#[test]
fn a_file_that_stops_half_way_keeps_the_one_before() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("made.tif");
    write(&path);
    let before = std::fs::read(&path).unwrap();
    assert!(write_tiff_rgb16(&path, 2, 2, None, None, |_, _| ControlFlow::Break(())).is_err());
    assert!(std::fs::read(&path).unwrap() == before);
}

#[test]
fn rows_of_another_length_and_rows_too_many_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    let mut writer = TiffWriter::create(&dir.path().join("made.tif"), 2, 1, None, None).unwrap();
    let short = writer.write_row(&[1; 5]).unwrap_err();
    assert!(matches!(short.fault, Fault::WrongCount { what: "samples", given: 5, expected: 6 }), "{short}");
    writer.write_row(&[1; 6]).unwrap();
    let many = writer.write_row(&[1; 6]).unwrap_err();
    assert!(matches!(many.fault, Fault::WrongCount { what: "rows", given: 2, expected: 1 }), "{many}");
}

#[test]
fn sizes_that_a_tiff_cannot_hold_are_refused() {
    let dir = tempfile::tempdir().unwrap();
    let refused = |width, height| {
        TiffWriter::create(&dir.path().join("made.tif"), width, height, None, None).map(|_| ()).unwrap_err().fault
    };
    assert!(matches!(refused(0, 5), Fault::Empty { .. }));
    // 27 000 squared is 4.4 GB, and classic TIFF counts to 4.29.
    assert!(matches!(refused(27_000, 27_000), Fault::TooManyPixels { .. }));
    let nowhere = TiffWriter::create(&dir.path().join("absent/made.tif"), 2, 2, None, None).map(|_| ()).unwrap_err();
    assert!(matches!(nowhere.fault, Fault::Write(_)), "{nowhere}");
}
