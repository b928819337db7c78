//! How many surfaces rays pass in a second, and how long a page's figures take. Prints a table; run it with
//! `cargo bench -p rays`.
//!
//! Times say nothing by themselves, so the same rays go through the same surfaces in the same run by numpy, whole columns at a
//! time in blocks of whatever size suits it best (`benches/trace.py`, one core); and the arithmetic is set against what the
//! processor can do at most, measured in the same run too. Without numpy (`CLOSEWORK_PYTHON`) that part is left out.

use pulp::{Arch, Simd, WithSimd};
use rays::{Iris, Object, Openings, Part, Ray, Rays, Spectrum, System, Wavelength, form};
use std::io::Write as _;
use std::process::{Command, Stdio};
use std::time::Instant;

/// Additions and multiplications (two for one fused) of a spherical surface, counted in `trace/fast.rs`: into its coordinates 1,
/// along 5, square 5, offset and cosine 5, radicand 3, second radicand 2, denominator 1, point and path 8, new direction 13, opening
/// 4; a division and two square roots count as one each: 3.
const OPERATIONS: f64 = 50.0;

const RAYS: usize = 1 << 16;
/// Rays are traced in lots of this many, the size of a pencil's grid, so that they lie in the nearer caches as they do there;
/// numpy takes whatever lot suits it best.
const LOT: usize = 1 << 12;
const REPEATS: usize = 40;

fn main() {
    let lens = form("double-gauss-1954").expect("in the library").prescription().at(Wavelength::D);
    let lots: Vec<Rays> = (0..RAYS / LOT).map(|lot| Rays::new((lot * LOT..(lot + 1) * LOT).map(start))).collect();
    let surfaces = (LOT * lens.steps().len()) as f64;
    let each = |work: &dyn Fn(&mut Rays)| {
        let one = |lot: &Rays| {
            fastest(REPEATS, || {
                let mut rays = lot.clone();
                work(&mut rays);
                std::hint::black_box(&rays);
            })
        };
        lots.iter().map(one).fold(f64::INFINITY, f64::min)
    };
    let seconds = each(&|rays| lens.trace(rays, Openings::Cut)) - each(&|_| {});
    let mut traced = Rays::new((0..RAYS).map(start));
    lens.trace(&mut traced, Openings::Cut);
    let rate = surfaces / seconds;
    // The stop is a plane that only moves rays: ten of the eleven rows are spheres.
    let work = rate * OPERATIONS * 10.0 / 11.0;
    let peak = peak();
    println!(
        "rays through {} surfaces, one core: {:.1} million ray-surfaces a second",
        lens.steps().len(),
        rate * 1e-6
    );
    println!(
        "  {:.2} billion operations a second of {:.1} at most: {:.0} %",
        work * 1e-9,
        peak * 1e-9,
        100.0 * work / peak
    );
    let table: Vec<[f64; 4]> =
        lens.steps().iter().map(|step| [step.gap_before_mm, step.surface.curvature, step.before, step.after]).collect();
    let sum: f64 = traced.iter().flatten().map(|ray| ray.at[1]).sum();
    numpy(&table, rate, sum);
    page();
}

/// Rays over a square of 16 mm in an even grid, 5 degrees from the axis, none of them lost.
fn start(i: usize) -> Ray {
    let side = 256;
    let place = |k: usize| (k as f64 / (side - 1) as f64 - 0.5) * 8.0;
    let (sine, cosine) = 5f64.to_radians().sin_cos();
    Ray { at: [place(i % side), place(i / side) - 1.75, 0.0], toward: [0.0, sine, cosine], path_mm: 0.0 }
}

/// The clock's time of the fastest of many short runs, as numpy's too: others on the same machine can only slow a run down.
fn fastest(runs: usize, mut run: impl FnMut()) -> f64 {
    let once = |_| {
        let began = Instant::now();
        run();
        began.elapsed().as_secs_f64()
    };
    (0..runs).map(once).fold(f64::INFINITY, f64::min)
}

/// Fused multiplications and additions that wait for nothing: operations a second.
fn peak() -> f64 {
    struct Chains;
    const TURNS: usize = 40_000;
    impl WithSimd for Chains {
        type Output = f64;
        #[inline(always)]
        fn with_simd<S: Simd>(self, simd: S) -> f64 {
            let (factor, summand) = (simd.splat_f64s(0.999), simd.splat_f64s(1e-3));
            // Different starts, or the compiler would compute one for all.
            let mut chains: [_; 10] = std::array::from_fn(|i| simd.splat_f64s(std::hint::black_box(i as f64)));
            for _ in 0..TURNS {
                for chain in &mut chains {
                    *chain = simd.mul_add_e_f64s(*chain, factor, summand);
                }
            }
            let sum: f64 = chains.iter().map(|chain| simd.reduce_sum_f64s(*chain)).sum();
            std::hint::black_box(sum);
            (TURNS * 10 * 2 * S::F64_LANES) as f64
        }
    }
    let mut operations = 0.0;
    let seconds = fastest(REPEATS, || operations = std::hint::black_box(Arch::new().dispatch(Chains)));
    operations / seconds
}

/// Has numpy trace the same rays.
fn numpy(table: &[[f64; 4]], rate: f64, sum: f64) {
    let Ok(python) = std::env::var("CLOSEWORK_PYTHON") else {
        println!("numpy: left out, CLOSEWORK_PYTHON is not set");
        return;
    };
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/trace.py");
    let mut command = Command::new(python);
    command.arg(script).stdin(Stdio::piped()).stdout(Stdio::piped());
    for threads in ["OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"] {
        command.env(threads, "1");
    }
    let mut child = command.spawn().expect("python starts");
    let mut input = child.stdin.take().expect("piped");
    for row in table {
        writeln!(input, "{:?} {:?} {:?} {:?}", row[0], row[1], row[2], row[3]).expect("written");
    }
    drop(input);
    let output = child.wait_with_output().expect("python ends");
    let words: Vec<f64> =
        String::from_utf8_lossy(&output.stdout).split_whitespace().filter_map(|w| w.parse().ok()).collect();
    let [theirs, block, their_sum] = words[..] else {
        panic!("numpy said {:?}", String::from_utf8_lossy(&output.stdout))
    };
    assert!((their_sum - sum).abs() < 1e-6 * sum.abs().max(1.0), "other rays: {their_sum} and {sum}");
    println!(
        "numpy, blocks of {block}: {:.2} million ray-surfaces a second; {:.1} times slower",
        theirs * 1e-6,
        rate / theirs
    );
}

/// Seven places in the field, three colours, 64 × 64 cells, nine planes of focus, on two threads: the lens at life size.
fn page() {
    let lens = form("double-gauss-1954").expect("in the library").scaled_to(80.0).expect("a size");
    let semi_diameter_mm = lens.semi_diameter_for(16.0, Wavelength::D).expect("a stop");
    let film = lens.at(Wavelength::D).cardinal().expect("power").back_focus_mm + 80.0;
    let parts = [Part { lens, gap_after_mm: film }];
    let system = System::new(Object::Infinity, &parts, Iris { part: 0, semi_diameter_mm }).expect("a set-up");
    let system = system.with_object_in_focus(Wavelength::D).expect("life size");
    let spectrum = Spectrum::visible();
    let frequencies: Vec<f64> = (0..=30).map(|i| 2.0 * f64::from(i)).collect();
    let place = |i: usize| {
        let pencil = system.pencil(28.0 * i as f64 / 6.0, &spectrum, 64).expect("light");
        let planes = (-4..=4).map(|i| pencil.transfer(0.1 * f64::from(i), &frequencies, |_| 1.0)[10].sagittal);
        (planes.sum::<f64>(), pencil.light())
    };
    let one = fastest(REPEATS, || {
        std::hint::black_box((0..7).map(place).collect::<Vec<_>>());
    });
    let tracing = fastest(REPEATS, || {
        std::hint::black_box((0..7).map(|i| system.pencil(28.0 * i as f64 / 6.0, &spectrum, 64)).collect::<Vec<_>>());
    });
    let two = (0..REPEATS).map(|_| {
        let began = Instant::now();
        std::thread::scope(|scope| {
            scope.spawn(|| std::hint::black_box((0..3).map(place).collect::<Vec<_>>()));
            std::hint::black_box((3..7).map(place).collect::<Vec<_>>());
        });
        began.elapsed().as_secs_f64()
    });
    let two = two.fold(f64::INFINITY, f64::min);
    println!("a page (7 places, 3 colours, 64 x 64 cells, 9 planes, 31 frequencies): {:.1} ms of one core", one * 1e3);
    println!(
        "  of that aiming and tracing {:.1} ms; on two threads {:.1} ms by the clock at best",
        tracing * 1e3,
        two * 1e3
    );
}
