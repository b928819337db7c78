//! How much memory reading takes: the process's own peak, as Linux counts it. One test alone in its process, because
//! the peak is the whole process's.
#![cfg(target_os = "linux")]

#[path = "common/absurd.rs"]
mod absurd;
mod common;

use imaging::{Scan, ToneChoice, write_tiff_rgb16};
use planes::Region;
use std::ops::ControlFlow;
use std::path::Path;

/// What the server may take while it reads one file, kB.
const LIMIT_KB: u64 = 500_000;
/// What a large TIFF may take, which is read in parts, kB.
const LARGE_SCAN_KB: u64 = 200_000;

/// The largest resident size so far, kB (proc(5), /proc/pid/status, VmHWM).
fn peak_kb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|l| l.starts_with("VmHWM:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

#[test]
fn misleading_files_and_a_large_scan_stay_within_the_limit() {
    let folder = tempfile::tempdir().unwrap();
    large_scan(folder.path());
    // Its largest region takes 72 MB as light; the whole picture would take 216 MB, and 432 MB as light.
    eprintln!("large scan: {} kB", peak_kb());
    assert!(peak_kb() < LARGE_SCAN_KB, "{} kB for a large scan", peak_kb());
    misleading_files(folder.path());
    eprintln!("misleading files: {} kB", peak_kb());
    assert!(peak_kb() < LIMIT_KB, "{} kB for misleading files", peak_kb());
}

/// Regions and the pyramid of 6000 x 6000 pixels of colour at 16 bits.
fn large_scan(folder: &Path) {
    let path = folder.join("large.tif");
    write_tiff_rgb16(&path, 6000, 6000, Some(6.35), None, |row, samples| {
        samples.iter_mut().enumerate().for_each(|(i, v)| *v = (i as u32 * 7 + row * 11) as u16);
        ControlFlow::Continue(())
    })
    .unwrap();
    let mut scan = Scan::open(&path).unwrap();
    for region in
        [Region { x: 5000, y: 5200, width: 800, height: 600 }, Region { x: 0, y: 0, width: 6000, height: 1000 }]
    {
        let reading = scan.read_linear(region, ToneChoice::Icc).unwrap();
        assert_eq!(common::channels_of(&reading.picture)[2].width(), region.width as usize);
    }
    let options = imaging::pyramid::Options::default();
    imaging::pyramid::build(&mut scan, &folder.join("tiles"), options, &mut |_| ControlFlow::Continue(())).unwrap();
}

/// Files that promise much, and one just below the limit of what is decoded whole.
fn misleading_files(folder: &Path) {
    for (name, bytes, _) in absurd::all() {
        let path = folder.join(name);
        std::fs::write(&path, bytes).unwrap();
        let Ok(mut scan) = Scan::open(&path) else { continue };
        let whole = scan.whole();
        // A pixel of the last row: everything above must pass by.
        let last = Region { x: 0, y: whole.height - 1, width: 1, height: 1 };
        let _ = scan.read_linear(last, ToneChoice::Icc);
        let _ = scan.read_encoded(whole);
    }
    let interlaced = absurd::png(19_500, 20_000, 8, 0, true, &[(b"IDAT", &absurd::deflated_zeros(20_001 * 20_000))]);
    let path = folder.join("interlaced.png");
    std::fs::write(&path, interlaced).unwrap();
    let mut scan = Scan::open(&path).unwrap();
    let corner = Region { x: 19_400, y: 19_900, width: 100, height: 100 };
    assert!(scan.read_linear(corner, ToneChoice::Icc).is_ok());
}
