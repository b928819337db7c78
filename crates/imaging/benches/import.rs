//! What an import takes: the viewing pyramid of scans of 10 to 400 megapixels, and small regions of large files. Run it
//! with `cargo bench -p imaging --bench import`; words behind `--` choose files by
//! their names (`lzw-10`, or `lzw` for all sizes), `runs=1` makes it shorter, `only=edges` leaves the pyramids out, and with
//! `keep=folder` files stay in that folder and are used again.
//!
//! Times say nothing by themselves, so `vips dzsave` (Debian's libvips-tools) makes a pyramid of the same file in the same
//! run, turn and turn about; the ratio is what counts. Both are started by `/usr/bin/time`, which also tells the peak of
//! memory. Not the same in the two: ours is averaged in linear light, goes through the profile, keeps colour at full
//! resolution and ends with the level that fits into one tile; the other averages encoded values, leaves out the profile,
//! halves the resolution of colour (`vips 4:4:4` does not) and goes down to one pixel.
//! The files, up to 3 GB at a time, lie in the folder for temporary files and are removed.
//!
//! Recorded on two cores (26 November 2026, one run each; strips of 4 rows at 100 and 400 megapixels on a quiet machine but LZW's 400,
//! the others beside other work): elapsed seconds and peak MB of ours, and ours over the other's elapsed and processor seconds. Of one
//! strip of 400 megapixels that is packed the other program makes nothing.
//!
//! | megapixels | raw | LZW | Deflate |
//! | --- | --- | --- | --- |
//! | 10 | 0.36 s, 21 MB, 0.33, 0.59 | 0.39 s, 20 MB, 0.32, 0.77 | 0.30 s, 20 MB, 0.52, 0.76 |
//! | 25 | 0.39 s, 28 MB, 0.56, 0.70 | 0.84 s, 29 MB, 0.61, 0.87 | 0.71 s, 29 MB, 0.65, 0.90 |
//! | 100 | 1.83 s, 53 MB, 0.67, 0.80 | 2.47 s, 52 MB, 0.47, 0.65 | 3.37 s, 51 MB, 0.61, 0.91 |
//! | 400 | 9.09 s, 105 MB, 0.79, 0.95 | 13.48 s, 108 MB, 0.73, 0.97 | 13.30 s, 105 MB, 0.83, 1.00 |
//!
//! | megapixels, one strip | raw | LZW | Deflate |
//! | --- | --- | --- | --- |
//! | 10 | 0.24 s, 20 MB, 0.51, 0.66 | 0.48 s, 29 MB, 0.60, 0.77 | 0.35 s, 30 MB, 0.51, 0.67 |
//! | 25 | 0.53 s, 30 MB, 0.65, 0.82 | 0.90 s, 52 MB, 0.51, 0.70 | 0.99 s, 58 MB, 0.61, 0.78 |
//! | 100 | 1.89 s, 54 MB, 0.67, 0.76 | 3.48 s, 93 MB, 0.69, 0.91 | 4.64 s, 88 MB, 0.68, 0.84 |
//! | 400 | 7.69 s, 102 MB, 0.70, 0.82 | 11.6 s, 158 MB | 15.8 s, 168 MB |
//!
//! An edge of 400 x 800 pixels in colour in the corner that is stored last: seconds to read the region (MB read from the file), and in
//! brackets those in which the other program cuts it out. Measuring it, four channels, takes 20 to 32 ms of the processor whatever the file.
//! Of one packed strip everything before the region has to be unpacked.
//!
//! | megapixels | raw | LZW | Deflate |
//! | --- | --- | --- | --- |
//! | 10 | 0.014 (2), [0.23] | 0.090 (25), [0.40] | 0.096 (18), [0.36] |
//! | 25 | 0.009 (2), [0.31] | 0.19 (39), [0.92] | 0.16 (28), [0.86] |
//! | 100 | 0.009 (2), [0.99] | 0.29 (77), [2.69] | 0.26 (56), [2.92] |
//! | 400 | 0.014 (2), [3.05] | 0.48 (155), [14.9] | 0.53 (112), [9.84] |
//!
//! | megapixels, one strip | raw | LZW | Deflate |
//! | --- | --- | --- | --- |
//! | 10 | 0.013 (2), [0.18] | 0.31 (79), [0.57] | 0.23 (57), [0.40] |
//! | 25 | 0.011 (2), [0.30] | 0.53 (197), [1.09] | 0.60 (143), [1.20] |
//! | 100 | 0.011 (2), [0.79] | 2.33 (789), [4.66] | 2.22 (570), [3.75] |
//! | 400 | 0.011 (2), [2.82] | 8.50 (3154), - | 9.48 (2279), - |

#[path = "import/files.rs"]
mod files;

use std::ops::ControlFlow;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use files::{CORNER, Packing, Wanted, write};
use imaging::{Scan, ToneChoice, pyramid};
use measure::{Channel, EdgeOptions, edge};
use planes::Region;

/// Elapsed and processor seconds, and peak memory in MB.
#[derive(Clone, Copy)]
struct Cost {
    elapsed: f64,
    cpu: f64,
    megabytes: f64,
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    if let [child, scan, out] = &words[..]
        && child == "child"
    {
        let mut scan = Scan::open(Path::new(scan)).unwrap();
        let go_on = &mut |_| ControlFlow::Continue(());
        pyramid::build(&mut scan, Path::new(out), pyramid::Options::default(), go_on).unwrap();
        return;
    }
    let runs = words.iter().find_map(|w| w.strip_prefix("runs=")?.parse().ok()).unwrap_or(3);
    let edges_only = words.iter().any(|w| w == "only=edges");
    let chosen: Vec<&String> = words.iter().filter(|w| !w.contains('=')).collect();
    let wanted = |name: &str| {
        chosen.is_empty()
            || chosen
                .iter()
                .any(|c| name.strip_prefix(c.as_str()).is_some_and(|rest| rest.is_empty() || rest.starts_with('-')))
    };
    let folder = tempfile::tempdir().unwrap();
    let keep = words.iter().find_map(|w| w.strip_prefix("keep=").map(Path::new));
    let (srgb, wide) = (imaging::srgb_profile(), moxcms::ColorProfile::new_bt2020().encode().unwrap());
    println!(
        "{:<22} {:>6} {:>8} {:>8} {:>6} | {:>8} {:>8} {:>6} | {:>8} {:>8} | {:>6} {:>6}",
        "file", "Mpx", "ours s", "cpu s", "MB", "vips s", "cpu s", "MB", "4:4:4 s", "cpu s", "ratio", "cpu"
    );
    let file = |megapixels: u32, packing: Packing, one: bool, icc| {
        // The shape of a 6 x 9 frame at 10 to 400 megapixels.
        let width = (f64::from(megapixels) * 1.5e6).sqrt() as u32;
        let height = width * 2 / 3;
        Wanted { width, height, packing, strip: if one { height } else { 4 }, icc }
    };
    let all = [
        ("raw", Packing::Raw, false, &srgb, &[10, 25, 100, 400][..]),
        ("lzw", Packing::Lzw, false, &srgb, &[10, 25, 100, 400]),
        ("deflate", Packing::Deflate, false, &srgb, &[10, 25, 100, 400]),
        ("differences", Packing::DeflateDifferences, false, &srgb, &[10, 25, 100]),
        ("zstd", Packing::Raw, false, &srgb, &[100]),
        ("one-strip-raw", Packing::Raw, true, &srgb, &[10, 25, 100, 400]),
        ("one-strip-lzw", Packing::Lzw, true, &srgb, &[10, 25, 100, 400]),
        ("one-strip-deflate", Packing::Deflate, true, &srgb, &[10, 25, 100, 400]),
        ("wide-profile-raw", Packing::Raw, false, &wide, &[100]),
    ];
    let all = all.iter().flat_map(|(kind, packing, one, icc, sizes)| {
        sizes.iter().map(move |size| (format!("{kind}-{size}"), file(*size, *packing, *one, icc)))
    });
    for (name, file) in all.filter(|(name, _)| wanted(name)) {
        let path = keep.unwrap_or(folder.path()).join(format!("{name}.tif"));
        if !path.exists() {
            write(&path, &file);
            if name.starts_with("zstd") && !repack(&path) {
                println!("{name:<22} left out: vips does not write it");
                std::fs::remove_file(&path).unwrap();
                continue;
            }
        }
        if !edges_only {
            compare(&name, &path, folder.path(), runs);
        }
        corner(&name, &path, folder.path(), runs);
        if keep.is_none() {
            std::fs::remove_file(&path).unwrap();
        }
    }
}

/// Packs a file with Zstandard, which only the other program writes here.
fn repack(path: &Path) -> bool {
    let packed = path.with_extension("packed.tif");
    let done = Command::new("vips").arg("tiffsave").args([path, &packed]).args(["--compression", "zstd"]).status();
    done.is_ok_and(|status| status.success()) && std::fs::rename(packed, path).is_ok()
}

fn compare(name: &str, path: &Path, folder: &Path, runs: usize) {
    let (out, other) = (folder.join("tiles"), folder.join("other"));
    let mut costs = [Vec::new(), Vec::new(), Vec::new()];
    for _ in 0..runs {
        let own = std::env::current_exe().unwrap();
        costs[0].extend(timed(
            Command::new("/usr/bin/time").args(["-f", "%e %U %S %M"]).arg(own).arg("child").args([path, &out]),
        ));
        for (cost, suffix) in costs[1..].iter_mut().zip([".jpg[Q=85]", ".jpg[Q=85,subsample-mode=off]"]) {
            let vips = ["-f", "%e %U %S %M", "vips", "dzsave"];
            let options = ["--tile-size", "512", "--overlap", "0", "--suffix", suffix];
            cost.extend(timed(Command::new("/usr/bin/time").args(vips).args([path, &other]).args(options)));
            let _ = std::fs::remove_dir_all(folder.join("other_files"));
            let _ = std::fs::remove_file(folder.join("other.dzi"));
        }
        let _ = std::fs::remove_dir_all(&out);
    }
    let size = Scan::open(path).unwrap().info().clone();
    let megapixels = f64::from(size.width) * f64::from(size.height) / 1e6;
    let [own, vips, full] = costs.map(|c| median(&c));
    let Some(own) = own else { return println!("{name:<22} cannot be timed: /usr/bin/time is not here") };
    print!("{name:<22} {megapixels:>6.1} {:>8.2} {:>8.2} {:>6.0}", own.elapsed, own.cpu, own.megabytes);
    match (vips, full) {
        (Some(vips), Some(full)) => println!(
            " | {:>8.2} {:>8.2} {:>6.0} | {:>8.2} {:>8.2} | {:>6.2} {:>6.2}",
            vips.elapsed,
            vips.cpu,
            vips.megabytes,
            full.elapsed,
            full.cpu,
            own.elapsed / vips.elapsed,
            own.cpu / vips.cpu
        ),
        _ => println!(" | vips is not here, or does not read this"),
    }
}

/// Runs a command under `/usr/bin/time`; nothing when it fails.
fn timed(command: &mut Command) -> Option<Cost> {
    let output = command.output().ok().filter(|o| o.status.success())?;
    let text = String::from_utf8_lossy(&output.stderr).into_owned();
    let numbers: Vec<f64> = text.lines().last()?.split(' ').filter_map(|v| v.parse().ok()).collect();
    let [elapsed, user, system, kilobytes] = numbers[..] else { return None };
    Some(Cost { elapsed, cpu: user + system, megabytes: kilobytes / 1024.0 })
}

/// The cost that is the median by time.
fn median(costs: &[Cost]) -> Option<Cost> {
    let mut costs = costs.to_vec();
    costs.sort_by(|a, b| a.elapsed.total_cmp(&b.elapsed));
    costs.get(costs.len() / 2).copied()
}

/// What an edge costs in the region that is stored last: reading and measuring it, and beside it how long the other program takes
/// to cut the same region out of the file. The middle of several runs.
fn corner(name: &str, path: &Path, folder: &Path, runs: usize) {
    let (mut reading, mut measuring, mut read, mut mtf50) = (Vec::new(), Vec::new(), 0.0, None);
    for _ in 0..runs.max(3) {
        let (before, start) = (bytes_read(), Instant::now());
        let mut scan = Scan::open(path).unwrap();
        let whole = scan.whole();
        let (width, height) = CORNER;
        let region = Region { x: whole.width - width, y: whole.height - height, width, height };
        let picture = scan.read_linear(region, ToneChoice::Icc).unwrap().picture;
        reading.push(start.elapsed().as_secs_f64());
        read = bytes_read() - before;
        let start = own_seconds();
        let report = edge(&picture, &EdgeOptions::default()).unwrap();
        measuring.push(own_seconds() - start);
        mtf50 = report.channel(Channel::Luminance).and_then(|found| found.mtf50_cy_px);
    }
    let cut = folder.join("cut.tif");
    let size = Scan::open(path).unwrap().whole();
    let place = [size.width - CORNER.0, size.height - CORNER.1].map(|v| v.to_string());
    let extent = [CORNER.0, CORNER.1].map(|v| v.to_string());
    let other = timed(
        Command::new("/usr/bin/time")
            .args(["-f", "%e %U %S %M", "vips", "crop"])
            .args([path, &cut])
            .args(place)
            .args(extent),
    );
    let _ = std::fs::remove_file(cut);
    let [reading, measuring] = [reading, measuring].map(middle);
    let file = std::fs::metadata(path).unwrap().len() as f64;
    println!(
        "{name:<22} edge in the last corner: read {:.3} s ({:.1} MB of {:.0}), measured {:.1} ms, MTF50 {:.4} cycles/px; vips cuts it out in {}",
        reading,
        read / 1e6,
        file / 1e6,
        1e3 * measuring,
        mtf50.unwrap_or(f64::NAN),
        other.map_or("-".into(), |cost| format!("{:.2} s with {:.0} MB", cost.elapsed, cost.megabytes)),
    );
}

/// Seconds that this thread has computed, as Linux counts them; 0 where that is not told.
fn own_seconds() -> f64 {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    text.split_whitespace().next().and_then(|nanoseconds| nanoseconds.parse::<f64>().ok()).unwrap_or(0.0) * 1e-9
}

fn middle(mut seconds: Vec<f64>) -> f64 {
    seconds.sort_by(f64::total_cmp);
    seconds[seconds.len() / 2]
}

/// Bytes that this process has read so far (proc(5), /proc/pid/io, rchar); 0 where that is not told.
fn bytes_read() -> f64 {
    let io = std::fs::read_to_string("/proc/self/io").unwrap_or_default();
    io.lines().find_map(|l| l.strip_prefix("rchar: ")?.parse().ok()).unwrap_or(0.0)
}
