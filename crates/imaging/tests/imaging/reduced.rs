//! The whole picture made smaller is the mean of the whole picture, whichever way round it is stored.

use std::ops::ControlFlow;
use std::path::Path;

use imaging::{Fault, Scan, ToneChoice, write_tiff_rgb16};
use planes::{Channels, Linear, Picture};
use testkit::assert_close;

const WIDTH: u32 = 53;
const HEIGHT: u32 = 37;

fn write(path: &Path, orientation: u16) {
    write_tiff_rgb16(path, WIDTH, HEIGHT, None, None, |row, samples| {
        for (i, v) in samples.iter_mut().enumerate() {
            *v = ((i as u32 * 1777 + row * 9311 + (i as u32 * row) % 89 * 300) % 65_536) as u16;
        }
        ControlFlow::Continue(())
    })
    .unwrap();
    let mut bytes = std::fs::read(path).unwrap();
    set_orientation(&mut bytes, orientation);
    std::fs::write(path, bytes).unwrap();
}

/// Turns the file's entry for its compression (259; without it a file is uncompressed) into one for its orientation (274): entries of a
/// directory need not be in order for any reader here, and both are short.
fn set_orientation(bytes: &mut [u8], value: u16) {
    let at = u32::from_le_bytes(bytes[4..8].try_into().unwrap()) as usize;
    let count = usize::from(u16::from_le_bytes(bytes[at..at + 2].try_into().unwrap()));
    for entry in 0..count {
        let start = at + 2 + 12 * entry;
        if u16::from_le_bytes(bytes[start..start + 2].try_into().unwrap()) == 259 {
            bytes[start..start + 2].copy_from_slice(&274_u16.to_le_bytes());
            bytes[start + 8..start + 10].copy_from_slice(&value.to_le_bytes());
            return;
        }
    }
    panic!("the writer names its compression");
}

fn planes(picture: &Picture<Linear>) -> &[planes::Plane<Linear>; 3] {
    let Channels::Rgb { planes, .. } = picture.channels() else { panic!("written in colour") };
    planes
}

#[test]
fn every_pixel_is_the_mean_of_its_square_as_shown() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("made.tif");
    for orientation in 1..=8 {
        write(&path, orientation);
        let mut scan = Scan::open(&path).unwrap();
        assert_eq!(scan.info().orientation.tag(), u32::from(orientation));
        let full = scan.read_linear(scan.whole(), ToneChoice::Icc).unwrap().picture;
        for factor in [1, 2, 5, 36, 37, 1000] {
            let small = scan.read_reduced(factor, ToneChoice::Icc, &mut |_| ControlFlow::Continue(())).unwrap();
            let small = small.reading.picture;
            let factor = factor.min(37) as usize;
            assert_eq!((small.width(), small.height()), (full.width() / factor, full.height() / factor));
            for (small, full) in planes(&small).iter().zip(planes(&full)) {
                for row in 0..small.height() {
                    for column in 0..small.width() {
                        let square = (0..factor * factor)
                            .map(|i| f64::from(full.at(column * factor + i % factor, row * factor + i / factor)));
                        let mean = square.sum::<f64>() / (factor * factor) as f64;
                        assert_close!(f64::from(small.at(column, row)), mean, absolute = 2e-6);
                    }
                }
            }
        }
    }
}

/// A TIFF that is one strip, packed by another program's encoder.
fn one_packed_strip(path: &Path, rows: u32) {
    use tiff::encoder::{Compression, DeflateLevel, TiffEncoder, colortype};
    let file = std::fs::File::create(path).unwrap();
    let mut encoder = TiffEncoder::new(file).unwrap().with_compression(Compression::Deflate(DeflateLevel::Fast));
    let mut image = encoder.new_image::<colortype::RGB16>(WIDTH, rows).unwrap();
    image.rows_per_strip(rows).unwrap();
    let samples: Vec<u16> = (0..WIDTH * rows * 3).map(|i| (i * 7919 % 65_536) as u16).collect();
    image.write_data(&samples).unwrap();
}

#[test]
fn a_picture_that_unpacks_from_its_beginning_reads_the_same_once_it_is_laid_down() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("one.tif");
    one_packed_strip(&path, 100);
    assert!(!Scan::open(&path).unwrap().unpacks_from_the_beginning(), "a small one is not worth it");
    one_packed_strip(&path, 3000);
    let mut scan = Scan::open(&path).unwrap();
    assert!(scan.unpacks_from_the_beginning());
    let regions = [(0, 0, WIDTH, 3), (7, 1500, 20, 31), (0, 2990, WIDTH, 10), (52, 2999, 1, 1)]
        .map(|(x, y, width, height)| planes::Region { x, y, width, height });
    let before = regions.map(|region| scan.read_linear(region, ToneChoice::Icc).unwrap());
    let broken_off = scan.spool(tempfile::tempfile().unwrap(), &mut |_| ControlFlow::Break(())).unwrap_err();
    assert!(matches!(broken_off.fault, Fault::Cancelled));
    assert!(scan.unpacks_from_the_beginning());
    scan.spool(tempfile::tempfile().unwrap(), &mut |_| ControlFlow::Continue(())).unwrap();
    assert!(!scan.unpacks_from_the_beginning());
    let after = regions.map(|region| scan.read_linear(region, ToneChoice::Icc).unwrap());
    assert!(before == after);
    write(&path, 1);
    assert!(!Scan::open(&path).unwrap().unpacks_from_the_beginning(), "many strips are found one by one");
}

#[test]
fn it_can_be_broken_off() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("made.tif");
    write(&path, 1);
    let mut scan = Scan::open(&path).unwrap();
    let error = scan.read_reduced(4, ToneChoice::Icc, &mut |_| ControlFlow::Break(())).unwrap_err();
    assert!(matches!(error.fault, Fault::Cancelled));
}

#[test]
fn samples_at_the_ends_of_the_range_are_counted() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("made.tif");
    // Of 20 rows 3 are black in red, and 7 white in blue.
    write_tiff_rgb16(&path, 10, 20, None, None, |row, samples| {
        for pixel in samples.chunks_exact_mut(3) {
            pixel.copy_from_slice(&[if row < 3 { 0 } else { 9 }, 1, if row < 7 { 65_535 } else { 65_534 }]);
        }
        ControlFlow::Continue(())
    })
    .unwrap();
    let mut scan = Scan::open(&path).unwrap();
    let found = scan.read_reduced(2, ToneChoice::Icc, &mut |_| ControlFlow::Continue(())).unwrap().clipped;
    assert_eq!(found, [[0.15, 0.0], [0.0, 0.0], [0.0, 0.35]]);
}
