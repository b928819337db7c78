//! Draws one frame and writes it as a PNG: `cargo run --release --example frame -- beetle 56 /tmp/frame.png`.
//!
//! Further arguments: the specimen's length in mm, and `marked` to draw what [`Capture::places`] states over it.

use scene::{Blur, Capture, Grain, Laid, LateralColour, Places, Point, Settings, Specimen, render, test_card};
use std::ops::ControlFlow;

mod picture;
use picture::Picture;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let argument = |i: usize, default: &str| arguments.get(i).cloned().unwrap_or_else(|| default.into());
    let specimen = match argument(0, "beetle").as_str() {
        "seeds" => Specimen::SeedPod,
        "crystal" => Specimen::Crystal,
        _ => Specimen::StagBeetle,
    };
    let field_mm: f64 = argument(1, "56").parse()?;
    let laid = Laid::in_place(specimen, argument(3, "40").parse()?, field_mm);
    let scene = test_card(field_mm, &[laid])?;
    let capture = Capture::new(Settings {
        magnification: 56.0 / field_mm,
        rotation_deg: 0.6,
        blur: Blur { corner_radial_um: 24.0, corner_tangential_um: 16.0, ..Blur::even(11.0) },
        lateral: LateralColour { red_um: 12.0, blue_um: -16.0 },
        veiling_glare: 0.02,
        falloff_stops_at_corner: 0.5,
        grain: Grain { density_sd: 0.012, correlation_um: 14.0 },
        ..Settings::default()
    })?;
    let started = std::time::Instant::now();
    let frame = render(&scene, &capture, &mut |_| ControlFlow::Continue(())).ok_or("stopped")?;
    eprintln!("{} x {} px in {:.2} s", frame.width, frame.height, started.elapsed().as_secs_f64());
    let mut picture = Picture::of(&frame);
    if argument(4, "") == "marked" {
        mark(&mut picture, &capture.places(&scene));
    }
    picture.save(&argument(2, "/tmp/scene-frame.png"))
}

/// Regions in red, middles of edges as crosses in blue, ticks as green dots.
fn mark(picture: &mut Picture, places: &Places) {
    let regions = places.edges.iter().map(|e| e.region).chain(places.patches.iter().map(|p| p.region));
    for r in regions {
        let (right, bottom) = (r.x + r.width - 1, r.y + r.height - 1);
        let mut red = |x: u32, y: u32| picture.put(x.into(), y.into(), [255, 0, 0]);
        (r.x..=right).for_each(|x| [r.y, bottom].into_iter().for_each(|y| red(x, y)));
        (r.y..=bottom).for_each(|y| [r.x, right].into_iter().for_each(|x| red(x, y)));
    }
    for edge in &places.edges {
        for step in -8..=8 {
            let by = f64::from(step);
            dot(picture, edge.middle_px + Point::new(by, 0.0), 0, [0, 60, 255]);
            dot(picture, edge.middle_px + Point::new(0.0, by), 0, [0, 60, 255]);
        }
    }
    for ruler in &places.rulers {
        let tick = (ruler.last - ruler.first) * (1.0 / (ruler.ticks as f64 - 1.0));
        (0..ruler.ticks).for_each(|i| dot(picture, ruler.first + tick * i as f64, 1, [0, 220, 60]));
        [ruler.from, ruler.to].iter().for_each(|&end| dot(picture, end, 3, [255, 140, 0]));
    }
}

fn dot(picture: &mut Picture, at: Point, half: i64, colour: [u8; 3]) {
    for (dx, dy) in (-half..=half).flat_map(|dy| (-half..=half).map(move |dx| (dx, dy))) {
        picture.put(at.x as i64 + dx, at.y as i64 + dy, colour);
    }
}
