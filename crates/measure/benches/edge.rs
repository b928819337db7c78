//! How long one edge takes: a region of 400 x 800 pixels, the whole measurement, one thread. `cargo bench -p measure`.
//!
//! Times say nothing by themselves, so numpy measures the same region in the same run, whole arrays at a time
//! (`benches/edge.py`, through `CLOSEWORK_PYTHON`, one thread), both in seconds of the processor; the ratio is what counts. What is compared: numpy does the textbook's
//! passes (rows' centroids, line, projection, bins, difference, window, transform, correction, crossing) and as many resamples. This crate
//! does more: it refits the line and, if needed, a curve to the common profile, looks for clipping, second edges, dust and
//! uneven ground, and gives an interval at every frequency and for MTF10 besides. Nothing is taken off for that.

use measure::{Channel, EdgeOptions, edge};
use planes::{Linear, Picture, Plane};
use std::process::Command;
use std::sync::OnceLock;
use std::time::Instant;

const WIDTH: usize = 400;
const HEIGHT: usize = 800;
/// The ratio that this bench is there to show.
const WANTED: f64 = 10.0;

/// An edge at 5 degrees over the whole region with 1 % of noise, as a file of 16 bits holds it.
fn region() -> Plane<Linear> {
    let mut state = 0x2545_F491_4F6C_DD1D_u64;
    let mut uniform = move || {
        // The sum of twelve even chances has variance 1: as near to a normal distribution as a bench needs.
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1u64 << 53) as f64
    };
    let slope = 5.0_f64.to_radians().tan();
    let level = |c: usize, r: usize| {
        let across = (c as f64 - 200.0) + slope * (r as f64 - 400.0);
        let noise = (0..12).map(|_| uniform()).sum::<f64>() - 6.0;
        let light = 0.45 + 0.35 * (across / 1.1).tanh() + 0.01 * noise;
        ((light * 65_535.0).round() / 65_535.0) as f32
    };
    Plane::from_fn(WIDTH, HEIGHT, level).unwrap_or_else(|why| panic!("{why}"))
}

/// Seconds that this thread has computed, as Linux counts them: what other programs do at the same time does not count. Elsewhere
/// the clock's.
fn seconds() -> f64 {
    static START: OnceLock<Instant> = OnceLock::new();
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = text.and_then(|t| t.split_whitespace().next()?.parse::<f64>().ok());
    nanoseconds.map_or_else(|| START.get_or_init(Instant::now).elapsed().as_secs_f64(), |n| n * 1e-9)
}

fn main() {
    let plane = region();
    let picture = Picture::grey(plane.clone());
    let options = EdgeOptions::default();
    let mut spent = Vec::new();
    let mut found = (f64::NAN, f64::NAN);
    // About as many seconds as numpy's runs take, so that either side has the same chance of a quiet moment.
    for _ in 0..151 {
        let start = seconds();
        let report = edge(&picture, &options).unwrap_or_else(|why| panic!("{why}"));
        spent.push(seconds() - start);
        let luminance = report.channel(Channel::Luminance);
        found = luminance.and_then(|l| l.mtf50_cy_px.zip(l.mtf50_plus_minus)).unwrap_or(found);
    }
    // The fastest of several on either side: whatever else the machine does to caches can only add.
    let own = spent.iter().copied().fold(f64::INFINITY, f64::min);
    println!("{WIDTH} x {HEIGHT} pixels, one thread, {} resamples, fastest of {}", options.resamples, spent.len());
    println!("{:28} {:>9.2} ms   MTF50 {:.5} ± {:.5}", "this crate", 1e3 * own, found.0, found.1);
    match numpy(&plane, options.resamples) {
        Ok(text) => compare(&text, own, found.0),
        Err(why) => println!("numpy: not compared ({why}); set CLOSEWORK_PYTHON to a Python that has numpy"),
    }
}

fn compare(text: &str, own: f64, own_mtf50: f64) {
    for line in text.lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        let [way, numbers @ ..] = &words[..] else { continue };
        let numbers: Vec<f64> = numbers.iter().filter_map(|n| n.parse().ok()).collect();
        let [mtf50, half, seconds] = numbers[..] else { panic!("not understood: {line}") };
        println!("{:28} {:>9.2} ms   MTF50 {mtf50:.5} ± {half:.5}", format!("numpy, {way} resampled"), 1e3 * seconds);
        let ratio = seconds / own;
        println!("{:28} {ratio:>9.1} times {}", "", if ratio >= WANTED { "" } else { "(wanted: 10)" });
        assert!((mtf50 / own_mtf50 - 1.0).abs() < 0.02, "the two do not measure the same: {mtf50} and {own_mtf50}");
    }
}

/// What the script prints.
fn numpy(plane: &Plane<Linear>, resamples: usize) -> Result<String, String> {
    let python = std::env::var("CLOSEWORK_PYTHON").map_err(|_| "CLOSEWORK_PYTHON is not set".to_string())?;
    let file = std::env::temp_dir().join(format!("closework-edge-{}.f32", std::process::id()));
    let bytes: Vec<u8> = plane.samples().iter().flat_map(|s| s.to_le_bytes()).collect();
    std::fs::write(&file, bytes).map_err(|why| why.to_string())?;
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/edge.py");
    let out = Command::new(python)
        .arg(script)
        .arg(&file)
        .args([WIDTH, HEIGHT, resamples].map(|n| n.to_string()))
        .envs(["OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"].map(|name| (name, "1")))
        .output();
    let _ = std::fs::remove_file(&file);
    let out = out.map_err(|why| why.to_string())?;
    if !out.status.success() {
        return Err(String::from_utf8_lossy(&out.stderr).into_owned());
    }
    Ok(String::from_utf8_lossy(&out.stdout).into_owned())
}
