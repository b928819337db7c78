//! How long one slanted edge takes: 300 x 300 pixels in three colours. Build it with `--release`.
use measure::{Channel, EdgeOptions, edge};
use planes::{Linear, LumaWeights, Picture, Plane};

fn plane(shift: f64) -> Plane<Linear> {
    let level = |c: usize, r: usize| {
        let across = (c as f64 - 150.0) + 0.09 * (r as f64 - 150.0) - shift;
        (0.45 + 0.35 * (across / 1.3).tanh()) as f32
    };
    Plane::from_fn(300, 300, level).unwrap_or_else(|why| panic!("{why}"))
}

fn main() {
    let picture = Picture::rgb([plane(0.2), plane(0.0), plane(-0.1)], LumaWeights::SRGB);
    let picture = picture.unwrap_or_else(|why| panic!("{why}"));
    for _ in 0..5 {
        let start = std::time::Instant::now();
        let report = edge(&picture, &EdgeOptions::default());
        let spent = start.elapsed();
        match report {
            Ok(report) => {
                let mtf50 = report.channel(Channel::Green).and_then(|g| g.mtf50_cy_px);
                println!("{spent:?}: {:.2} degrees, green's MTF50 {mtf50:.4?} cycles per pixel", report.angle_deg);
            }
            Err(why) => println!("{spent:?}: {why}"),
        }
    }
}
