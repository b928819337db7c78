//! A program killed while it makes a pyramid leaves nothing that passes for one, and the next attempt succeeds.
#![cfg(unix)]

use std::io::{BufRead, BufReader};
use std::ops::ControlFlow;
use std::path::Path;
use std::process::{Command, Stdio};

use imaging::pyramid::{self, Options, Pyramid};
use imaging::{Fault, ImagingError, Scan, write_tiff_rgb16};

/// The child's scan and the folder that it fills.
const SCAN: &str = "CLOSEWORK_KILLED_SCAN";
const OUT: &str = "CLOSEWORK_KILLED_OUT";

fn build(scan: &Path, out: &Path, mut tell: impl FnMut(f64)) -> Result<Pyramid, ImagingError> {
    pyramid::build(&mut Scan::open(scan)?, out, Options { tile: 64, quality: 85 }, &mut |share| {
        tell(share);
        ControlFlow::Continue(())
    })
}

/// Begins a build in a process of its own and kills it once it has told of `share`.
fn kill_at(share: f64, scan: &Path, out: &Path) {
    let name = "whatever_is_there_after_a_kill_is_whole";
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args([name, "--exact", "--nocapture"])
        .envs([(SCAN, scan), (OUT, out)])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let told = lines.map_while(Result::ok).find(|line| line.parse::<f64>().is_ok_and(|told| told >= share));
    // SIGKILL on Unix.
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(told.is_some(), "the child ended before it had done {share}");
}

/// Every tile that the description promises is a whole JPEG.
fn check_whole(out: &Path, pyramid: Pyramid) {
    for level in 0..pyramid.levels {
        let (columns, rows) = pyramid.grid(level).unwrap();
        for (column, row) in (0..rows).flat_map(|row| (0..columns).map(move |column| (column, row))) {
            let tile = std::fs::read(pyramid::tile_path(out, level, column, row).unwrap()).unwrap();
            assert!(tile.starts_with(&[0xff, 0xd8]) && tile.ends_with(&[0xff, 0xd9]), "{level}: {column}, {row}");
        }
    }
}

#[test]
fn whatever_is_there_after_a_kill_is_whole() {
    if let (Some(scan), Some(out)) = (std::env::var_os(SCAN), std::env::var_os(OUT)) {
        build(scan.as_ref(), out.as_ref(), |share| println!("\n{share}")).unwrap();
        // Long enough to be killed after the last word too.
        std::thread::sleep(std::time::Duration::from_secs(60));
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let (scan, out) = (folder.path().join("scan.tif"), folder.path().join("tiles"));
    let (width, height) = (1500, 2000);
    write_tiff_rgb16(&scan, width, height, None, None, |row, samples| {
        samples.iter_mut().enumerate().for_each(|(i, v)| *v = (i as u32 * 977 + row * 1_301) as u16);
        ControlFlow::Continue(())
    })
    .unwrap();
    for share in [0.0, 0.1, 0.5, 0.9] {
        kill_at(share, &scan, &out);
        if let Ok(pyramid) = pyramid::load(&out) {
            // The child may have been faster than the kill.
            check_whole(&out, pyramid);
        }
        let _ = std::fs::remove_dir_all(&out);
    }
    // What was there before stays whole while it is made anew.
    let first = build(&scan, &out, |_| {}).unwrap();
    for share in [0.0, 0.5, 1.0] {
        kill_at(share, &scan, &out);
        match pyramid::load(&out) {
            Ok(pyramid) => check_whole(&out, pyramid),
            // Between the old one's leaving and the new one's coming there may be none.
            Err(error) => assert!(matches!(error.fault, Fault::Pyramid(_)) && !out.exists()),
        }
    }
    assert_eq!(build(&scan, &out, |_| {}).unwrap(), first);
    check_whole(&out, first);
    let mut left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    left.sort();
    assert_eq!(left, ["scan.tif", "tiles"], "the next attempt clears away what was left");
}

#[test]
fn a_half_made_folder_is_no_pyramid() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("tiles");
    // As a kill leaves it: tiles without the description, which is written last.
    std::fs::create_dir_all(out.join("0")).unwrap();
    std::fs::write(out.join("0/0_0.jpg"), [0xff, 0xd8]).unwrap();
    assert!(matches!(pyramid::load(&out).unwrap_err().fault, Fault::Pyramid(_)));
    assert_eq!(pyramid::tile_path(&out, 0, 0, 0), None);
}
