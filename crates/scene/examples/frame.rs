//! Draws one frame and writes it as a PNG: `cargo run --release --example frame -- beetle 56 /tmp/frame.png`.

use scene::{Blur, Capture, Grain, Laid, LateralColour, Settings, Specimen, render, test_card};
use std::ops::ControlFlow;

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
    let picture = image::ImageBuffer::<image::Rgb<u16>, _>::from_raw(frame.width, frame.height, frame.samples);
    let picture = image::DynamicImage::ImageRgb16(picture.ok_or("size")?);
    picture.to_rgb8().save(argument(2, "/tmp/scene-frame.png"))?;
    Ok(())
}
