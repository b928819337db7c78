//! How long a frame takes through point-spread functions over its field, beside the same frame through Gaussians of the crate's
//! own: both in one run, one thread each. `cargo bench -p scene --bench through`.

use std::ops::ControlFlow;
use std::time::Instant;

use scene::{Blur, Capture, Drawing, PointSpread, PointSpreads, Settings, render_rows, test_card};

const SIDE: usize = 213;
const CELL_MM: f64 = 0.004_233;

fn gaussian(sigma_um: f64) -> Vec<f32> {
    let middle = (SIDE / 2) as f64;
    let at = |i: usize| 1e3 * CELL_MM * (i as f64 - middle) / sigma_um;
    (0..SIDE * SIDE).map(|i| (-0.5 * (at(i % SIDE).powi(2) + at(i / SIDE).powi(2))).exp() as f32).collect()
}

fn main() {
    let settings = Settings { width_px: 2000, height_px: 2000, blur: Blur::even(9.0), ..Settings::default() };
    let (card, capture) = (test_card(51.0, &[]).expect("a card"), Capture::new(settings).expect("a capture"));
    let zones = (0..14).map(|i| PointSpread {
        film_mm: 3.0 * f64::from(i),
        light: 1.0,
        colours: [12.0, 10.0, 14.0].map(|um| gaussian(um + f64::from(i))),
    });
    let spreads = PointSpreads::new(CELL_MM, SIDE, zones.collect()).expect("spreads");
    let start = Instant::now();
    let _ = render_rows(&card, &capture, &mut |_| ControlFlow::Continue(()));
    let own = start.elapsed();
    let start = Instant::now();
    let _ = Drawing::through(&card, &capture, &spreads).expect("spreads").rows(&mut |_| ControlFlow::Continue(()));
    let through = start.elapsed();
    println!(
        "2000 × 2000 pixels, one thread: own Gaussians {own:.2?}, through spreads {through:.2?}: {:.1} times",
        through.as_secs_f64() / own.as_secs_f64()
    );
}
