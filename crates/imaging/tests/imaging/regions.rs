//! Regions that are read together are what each gives by itself, however the picture lies in its file.

use crate::layouts::{Layout, file, one_strip};
use imaging::{Fault, Scan, ToneChoice};
use planes::Region;

fn sample(x: u32, y: u32, c: u32) -> u16 {
    ((x * 1777 + y * 9311 + c * 23_456 + (x * y) % 89 * 300) % 65_536) as u16
}

#[test]
fn regions_together_are_the_same_as_one_by_one() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("made.tif");
    let at = |x: u32, y: u32, width: u32, height: u32| Region { x, y, width, height };
    // Beside each other, one within the other, far apart, a single pixel, the whole.
    let wanted =
        [at(60, 10, 20, 30), at(3, 15, 40, 20), at(10, 20, 5, 5), at(70, 70, 9, 9), at(0, 0, 1, 1), at(0, 0, 80, 80)];
    let base = one_strip(80, 80, 1);
    let layouts = [
        base,
        Layout { compression: 5, strip: 7, ..base },
        Layout { compression: 8, tile: Some((32, 16)), planar: true, ..base },
        Layout { bits: 8, channels: 1, strip: 16, ..base },
    ];
    for layout in layouts {
        for orientation in 1..=8 {
            std::fs::write(&path, file(&Layout { orientation, ..layout }, sample)).unwrap();
            let mut scan = Scan::open(&path).unwrap();
            let together = scan.read_linear_regions(&wanted, ToneChoice::Icc).unwrap();
            assert_eq!(together.len(), wanted.len());
            for (region, reading) in wanted.iter().zip(together) {
                let alone = scan.read_linear(*region, ToneChoice::Icc).unwrap();
                assert_eq!(reading, alone, "{region:?} of {layout:?}, orientation {orientation}");
            }
        }
    }
    let mut scan = Scan::open(&path).unwrap();
    assert!(scan.read_linear_regions(&[], ToneChoice::Icc).unwrap().is_empty());
    let outside = scan.read_linear_regions(&[at(0, 0, 5, 5), at(78, 0, 5, 5)], ToneChoice::Icc).unwrap_err();
    assert!(matches!(outside.fault, Fault::RegionOutside { region, .. } if region.x == 78), "{outside}");
}
