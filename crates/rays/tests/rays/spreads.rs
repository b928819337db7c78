//! Point-spread functions against the closed form of a perfect lens, sum rules, and the transfer functions of the same light.

use std::f64::consts::{PI, TAU};

use rays::{Draw, FilmLayers, Pencil, SetUp, Spectrum, Spread, System, Wavelength, form};
use testkit::assert_close;

fn set_up(f_number: f64, ratio: f64) -> System {
    let lens = form("double-gauss-1954").expect("in the library").scaled_to(85.0).expect("a size");
    let set_up = SetUp { draw: Draw::Magnification { ratio }, ..SetUp::alone(lens, f_number) };
    set_up.system(Wavelength::D).expect("a system")
}

fn pencil(system: &System, film_mm: f64, spectrum: &Spectrum, samples: usize) -> Pencil {
    let field =
        if film_mm == 0.0 { 0.0 } else { system.field_at_film(-film_mm, spectrum.main_line()).expect("a place") };
    system.pencil(field, spectrum, samples).expect("light")
}

/// The spread's own transform along x (sagittal) or y (tangential).
fn transformed(spread: &Spread, cell_mm: f64, cycles_per_mm: f64, tangential: bool) -> f64 {
    let middle = 0.5 * (spread.side as f64 - 1.0);
    let total: f64 = spread.cells.iter().sum();
    let sum = spread.cells.iter().enumerate().fold([0.0; 2], |[re, im], (i, light)| {
        let along = if tangential { i / spread.side } else { i % spread.side };
        let (sine, cosine) = (TAU * cycles_per_mm * (along as f64 - middle) * cell_mm).sin_cos();
        [re + light * cosine, im + light * sine]
    });
    sum[0].hypot(sum[1]) / total
}

/// Airy: the middle of a perfect lens's picture of a point holds π/(4 λ² N²) of its light per square millimetre (Born & Wolf,
/// *Principles of Optics*, 8.5.2, with N the f-number at the film). At f/22 and far away this form is nearly perfect.
#[test]
fn the_middle_of_a_nearly_perfect_picture_is_as_bright_as_airys() {
    let lens = form("double-gauss-1954").expect("in the library").scaled_to(85.0).expect("a size");
    let system = SetUp::alone(lens, 22.0).system(Wavelength::D).expect("a system");
    let spectrum = Spectrum::one(Wavelength::D);
    let light = pencil(&system, 0.0, &spectrum, 128);
    let focus = light.least_spot_focus_mm();
    let (cell_mm, side) = (0.001, 5);
    let spread = light.spread(focus, &[1.0], cell_mm, side);
    let peak = spread.cells[side * side / 2] / (cell_mm * cell_mm);
    let airy = PI / (4.0 * (Wavelength::D.um() * 1e-3 * 22.0_f64).powi(2));
    assert_close!(peak / airy, 1.0, absolute = 0.02);
}

#[test]
fn nearly_all_light_falls_on_cells_that_reach_far_enough() {
    let system = set_up(11.0, 1.0);
    let layers = FilmLayers::usual().expect("layers");
    for film_mm in [0.0, 15.0, 30.0] {
        let light = pencil(&system, film_mm, &layers.spectrum, 256);
        for weights in &layers.weights {
            let spread = light.spread(0.0, weights, 0.004, 201);
            assert!((-1e-6..0.03).contains(&spread.outside), "{film_mm} mm: {}", spread.outside);
        }
    }
}

/// Two ways from one pupil: autocorrelation, and the transform of its picture. Cells keep the mean of nothing, so that only what
/// falls outside and the pupil's grid set them apart.
#[test]
fn its_transform_is_the_transfer_function() {
    let system = set_up(11.0, 1.0);
    let spectrum = Spectrum::visible();
    for film_mm in [0.0, 12.0, 24.0] {
        let light = pencil(&system, film_mm, &spectrum, 256);
        let (cell_mm, frequencies) = (0.003, [10.0, 20.0, 40.0]);
        let spread = light.spread(0.1, &[1.0; 3], cell_mm, 301);
        for (frequency, expected) in frequencies.iter().zip(light.transfer(0.1, &frequencies, |_| 1.0)) {
            let [sagittal, tangential] = [false, true].map(|which| transformed(&spread, cell_mm, *frequency, which));
            assert_close!(sagittal, expected.sagittal.abs(), absolute = 0.012, "{film_mm} mm, {frequency}/mm");
            assert_close!(tangential, expected.tangential.contrast(), absolute = 0.012, "{film_mm} mm, {frequency}/mm");
        }
    }
}

/// A pupil's transform repeats; its copies are no light. A coarse grid and a wide window say the same as a fine one.
#[test]
fn copies_of_the_picture_are_left_out() {
    let system = set_up(8.0, 1.0);
    let spectrum = Spectrum::one(Wavelength::F);
    let [coarse, fine] = [64, 256].map(|samples| {
        let spread = pencil(&system, 0.0, &spectrum, samples).spread(0.0, &[1.0], 0.005, 181);
        assert!((-1e-3..0.03).contains(&spread.outside), "{samples} samples: {}", spread.outside);
        spread
    });
    let apart: f64 = coarse.cells.iter().zip(&fine.cells).map(|(a, b)| (a - b).abs()).sum();
    assert_close!(apart, 0.0, absolute = 0.03);
}

/// Rows go outwards, on whichever side of the axis the place lies: red lies farther out behind a lens whose colours say so.
#[test]
fn rows_go_outwards() {
    let system = set_up(16.0, 1.0);
    let layers = FilmLayers::usual().expect("layers");
    let question = rays::Question {
        film_mm: vec![28.0],
        cycles_per_mm: vec![10.0],
        spectrum: layers.spectrum.clone(),
        focus: rays::Criterion::AsItIs,
    };
    let zone = rays::predict(&system, &question).expect("light").zones.remove(0).expect("light there");
    let light = question.pencil(&system, 28.0, 0.0).expect("light");
    let middle = |weights: &[f64]| {
        let spread = light.spread(0.0, weights, 0.004, 251);
        let total: f64 = spread.cells.iter().sum();
        let rows = spread.cells.iter().enumerate().map(|(i, cell)| ((i / 251) as f64 - 125.0) * 0.004 * cell);
        rows.sum::<f64>() / total
    };
    let [red, green, blue] = [0, 1, 2].map(|layer| middle(&layers.weights[layer]));
    let told = |nm: f64| {
        let near = |colour: &&(Wavelength, f64)| (colour.0.um() * 1000.0 - nm).abs() < 1.0;
        zone.colours_mm.iter().find(near).expect("a colour").1
    };
    assert_close!(red - green, told(640.0), absolute = 0.002);
    assert_close!(blue - green, told(450.0), absolute = 0.003);
    assert!(told(640.0) > 0.005 && told(450.0) < -0.01, "this form's red lies outside at life size");
}

/// Where the film is far out of focus the picture of a point is the pupil's shadow: a disc of defocus/N across.
#[test]
fn far_out_of_focus_it_is_the_disc_of_the_cone() {
    let system = set_up(11.0, 1.0);
    let light = pencil(&system, 0.0, &Spectrum::one(Wavelength::D), 64);
    let defocus_mm = 20.0;
    let spread = light.spread(defocus_mm, &[1.0], 0.02, 121);
    let across = defocus_mm / system.first_order(Wavelength::D).f_number;
    let row = &spread.cells[60 * 121..61 * 121];
    let lit = row.iter().filter(|light| **light > 0.25 * row[60]).count();
    assert_close!(lit as f64 * 0.02, across, relative = 0.05);
    assert_close!(spread.outside, 0.0, absolute = 1e-9);
}

#[test]
fn layers_are_red_green_and_blue_in_that_order() {
    let layers = FilmLayers::usual().expect("layers");
    let mean = |weights: &[f64]| {
        let total: f64 = weights.iter().sum();
        layers.spectrum.wavelengths().zip(weights).map(|(colour, weight)| colour.um() * weight).sum::<f64>() / total
    };
    let means = [0, 1, 2].map(|layer| mean(&layers.weights[layer]));
    assert_close!(means[0], 0.6375, absolute = 1e-9);
    assert_close!(means[1], 0.545, absolute = 1e-9);
    assert_close!(means[2], 0.45, absolute = 1e-9);
    assert_close!(layers.spectrum.main_line().um(), 0.545, absolute = 1e-9);
}
