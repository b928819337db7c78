//! How fast a large drawer is gone through, and how that grows. Prints a table; run it with `cargo bench -p kit`.
//!
//! Times say nothing by themselves, so the same evaluation is done in the same run by numpy, whole arrays at a time, from the same
//! numbers (`benches/drawer.py`); the ratio is what counts. Without numpy that part says so and is left out.

use kit::{Demand, Kit, Limits, Setup, SetupRequest, Survey, reach};
use std::fmt::Write as _;
use std::process::Command;
use std::time::{Duration, Instant};

/// A drawer: bodies, lenses, tubes, bellows, close-up lenses, converters, with a ring for every joint.
fn drawer(bodies: usize, lenses: usize, tubes: usize, bellows: usize, close_ups: usize, converters: usize) -> Kit {
    let mut text = String::new();
    for i in 0..bodies {
        let _ = writeln!(
            text,
            "[[body]]\nid = \"body-{i}\"\nframe_mm = [56, {}]\nregister_mm = {}\nmount = \"m\"",
            [56.0, 69.5, 41.5][i % 3],
            80 + 3 * i
        );
    }
    for i in 0..lenses {
        let f = [50, 60, 65, 75, 80, 90, 105, 120, 135, 150][i % 10];
        let _ = writeln!(
            text,
            "[[lens]]\nid = \"lens-{i}\"\nmount = \"m\"\nfocal_length_mm = {f}\nmax_aperture = {}\nmin_aperture = 32\n\
             pupil_ratio = {}\nprincipal_separation_mm = {}\nlength_mm = {}\nmax_magnification = {}\nthread_mm = {}",
            [2.8, 3.5, 4.0][i % 3],
            0.8 + 0.07 * i as f64,
            i as f64 - 3.0,
            f * 7 / 10,
            0.1 + 0.02 * i as f64,
            [58, 62, 67][i % 3]
        );
    }
    for i in 0..tubes {
        // No two sums of three are equal: every set is a class of its own, the most that so many tubes can make.
        let _ = writeln!(
            text,
            "[[tube]]\nid = \"tube-{i}\"\nmount = \"m\"\nlength_mm = {}",
            7.0 + 5.3 * i as f64 + 0.37 * (i * i) as f64
        );
    }
    for i in 0..bellows {
        let _ = writeln!(
            text,
            "[[bellows]]\nid = \"bellows-{i}\"\nmount = \"m\"\ndraw_mm = [{}, {}]",
            34 + 7 * i,
            140 + 31 * i
        );
    }
    for i in 0..close_ups {
        let thread = [58, 62, 67][i % 3];
        let _ = writeln!(
            text,
            "[[close_up_lens]]\nid = \"close-up-{i}\"\npower_dpt = {}\nthread_mm = {thread}\ngap_mm = {}",
            1.0 + 0.5 * i as f64,
            2.0 + 0.25 * i as f64
        );
    }
    for i in 0..converters {
        let _ = writeln!(
            text,
            "[[teleconverter]]\nid = \"converter-{i}\"\nmount = \"m\"\nfactor = {}\nlength_mm = {}",
            1.4 + 0.6 * i as f64,
            20 + 18 * i
        );
    }
    for (from, to) in [(58, 62), (62, 67), (58, 67)] {
        let _ = writeln!(
            text,
            "[[step_ring]]\nid = \"step-{from}-{to}\"\nfrom_mm = {from}\nto_mm = {to}\nthickness_mm = 2"
        );
    }
    for thread in [58, 62, 67] {
        let _ = writeln!(
            text,
            "[[reversing_ring]]\nid = \"reverse-{thread}\"\nmount = \"m\"\nthread_mm = {thread}\nthickness_mm = 3"
        );
        let _ = writeln!(text, "[[coupling_ring]]\nid = \"couple-{thread}\"\nthreads_mm = [{thread}, {thread}]");
    }
    Kit::parse(&text).expect("the bench's kit is right")
}

fn timed<T>(work: impl FnOnce() -> T) -> (T, Duration) {
    let start = Instant::now();
    let result = work();
    (result, start.elapsed())
}

/// The least of a few runs: what else the machine does only adds.
fn least<T>(times: usize, mut work: impl FnMut() -> T) -> (T, Duration) {
    let mut best = timed(&mut work);
    for _ in 1..times {
        let next = timed(&mut work);
        if next.1 < best.1 {
            best = next;
        }
    }
    best
}

fn seek(kit: &Kit, wanted: f64) -> (kit::Reach, Duration) {
    let demand = Demand { magnification: Some(wanted), most: 200, limits: Limits::default(), ..Demand::default() };
    least(3, || reach(kit, &demand).expect("reached"))
}

fn growth() {
    println!(
        "drawer (bodies, lenses, tubes, bellows, close-up lenses, converters)   wanted   set-ups   ways   best 200 and total"
    );
    let sizes =
        [(1, 3, 3, 1, 2, 1), (1, 6, 4, 1, 4, 1), (2, 8, 6, 2, 6, 2), (3, 10, 8, 2, 8, 2), (3, 12, 10, 2, 10, 2)];
    for (bodies, lenses, tubes, bellows, close_ups, converters) in sizes {
        let kit = drawer(bodies, lenses, tubes, bellows, close_ups, converters);
        for wanted in [0.5, 1.0, 2.0] {
            let (found, time) = seek(&kit, wanted);
            println!(
                "{bodies:>3}, {lenses:>2}, {tubes:>2}, {bellows}, {close_ups:>2}, {converters}{:>44}  {wanted:>5}  {:>9}  {:>9}  {:>8.1} ms",
                "",
                found.total,
                found.ways,
                time.as_secs_f64() * 1e3
            );
        }
    }
}

/// One set-up with its uncertainties, as a slider asks for it.
fn one_set_up() {
    let kit = drawer(1, 3, 3, 1, 2, 1);
    for parts in
        ["body-0,lens-1", "body-0,tube-1,bellows-0=90,lens-0,close-up-0", "body-0,tube-0,converter-0,lens-0,close-up-0"]
    {
        let request = SetupRequest { parts: parts.split(',').map(Into::into).collect(), ..SetupRequest::default() };
        let rounds = 2000;
        let (_, whole) = timed(|| {
            for _ in 0..rounds {
                let setup = Setup::resolve(&kit, &request).expect("resolved");
                std::hint::black_box(setup.report().expect("reported"));
            }
        });
        println!("{parts}: {:.1} µs with uncertainty", whole.as_secs_f64() * 1e6 / f64::from(rounds));
    }
}

/// The same question to this solver and to numpy: of every stack, which reach the magnification, and the best 200.
fn against_numpy() {
    let kit = drawer(3, 10, 8, 2, 8, 2);
    let survey = Survey::of(&kit, &Demand::default()).expect("surveyed");
    let (count, numbers) = survey.numbers();
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/drawer.py");
    let file = std::env::temp_dir().join(format!("closework-drawer-{}", std::process::id()));
    std::fs::write(&file, numbers).expect("written");
    // Round figures are the very ends of some ranges, where rounding decides who is counted.
    for wanted in [0.53, 2.13] {
        let (found, time) = seek(&kit, wanted);
        let own = count as f64 / time.as_secs_f64() / 1e6;
        println!("wanted {wanted}: {} of {count} stacks; {own:.1} million a second", found.total);
        let python = std::env::var_os("CLOSEWORK_PYTHON").unwrap_or_else(|| "python3".into());
        let output = match Command::new(python).arg(script).arg(&file).arg(wanted.to_string()).output() {
            Ok(output) => output,
            Err(error) => {
                println!("numpy left out: {error}");
                continue;
            }
        };
        let words = String::from_utf8_lossy(&output.stdout).into_owned();
        let lines: Vec<&str> = words.lines().collect();
        let ([total, rate], true) = (&lines[..], output.status.success()) else {
            let why = String::from_utf8_lossy(&output.stderr).into_owned();
            println!("numpy left out: {}", why.lines().last().unwrap_or("no reason given"));
            continue;
        };
        let total: u64 = total.parse().unwrap_or_default();
        // Of millions a few lie just at an end.
        assert!(total.abs_diff(found.total) <= found.total / 100_000, "numpy finds {total}");
        let theirs: f64 = rate.split(' ').next().and_then(|n| n.parse().ok()).unwrap_or(f64::NAN);
        println!("    numpy: {rate}; ratio {:.1}", own / theirs);
    }
    let _ = std::fs::remove_file(file);
}

fn main() {
    growth();
    one_set_up();
    against_numpy();
}
