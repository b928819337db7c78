//! Pencils: diffraction, focus, light.

use rays::{
    Iris, Medium, Object, Openings, Part, Pencil, Prescription, Ray, Rays, Row, Spectrum, SpectrumError, Surface,
    System, Wavelength,
};
use testkit::assert_close;

/// A perfect lens: parallel light out of glass through a hyperbola of k = −n² (Descartes), f/`f_number`, its stop at the
/// plane front.
fn perfect(f_number: f64) -> System {
    let n = 1.5168f64;
    let plane = Row { stop: true, ..Row::new(Surface::PLANE, Some(5.0), Medium::Constant(n)) };
    let rows = vec![plane, Row::new(Surface::conic(-40.0, -n * n), None, Medium::Air)];
    let lens = Prescription::new(rows).unwrap();
    let focal = 40.0 / (n - 1.0);
    let iris = Iris { part: 0, semi_diameter_mm: 0.5 * focal / f_number };
    let parts = [Part { lens, gap_after_mm: focal }];
    System::new(Object::Infinity, &parts, iris).unwrap().with_film_in_focus(Wavelength::D).unwrap()
}

fn green() -> Spectrum {
    Spectrum::one(Wavelength::from_um(0.55).unwrap())
}

fn axial(system: &System, samples: usize) -> Pencil {
    system.pencil(0.0, &green(), samples).unwrap()
}

/// Twice the sine of the cone's half angle over the wavelength: the exact cut-off, cycles/mm.
fn cut_off(system: &System) -> f64 {
    let um = 0.55;
    let lens = system.at(Wavelength::from_um(um).unwrap());
    let ray = Ray { at: [0.0, system.semi_diameter_mm(), 0.0], toward: [0.0, 0.0, 1.0], path_mm: 0.0 };
    let mut rays = Rays::new([ray]);
    lens.trace(&mut rays, Openings::Measure);
    -2.0 * rays.get(0).unwrap().toward[1] / (um * 1e-3)
}

/// (share of the cut-off, contrast): (2/π)(acos s − s√(1 − s²)), Goodman, *Introduction to Fourier Optics*, 6.3.
const CIRCLE: [(f64, f64); 10] = [
    (0.1, 0.8728885716),
    (0.2, 0.7470600781),
    (0.25, 0.6850376425),
    (0.3, 0.6238376648),
    (0.4, 0.5046315755),
    (0.5, 0.3910022190),
    (0.6, 0.2847569799),
    (0.7, 0.1881204044),
    (0.8, 0.1040880387),
    (0.9, 0.0373860735),
];

#[test]
fn a_perfect_lens_has_the_response_of_diffraction() {
    let system = perfect(8.0);
    let cut_off = cut_off(&system);
    for (samples, allowed) in [(32, 4e-3), (64, 5e-4), (128, 1e-4)] {
        let pencil = axial(&system, samples);
        let frequencies: Vec<f64> = CIRCLE.iter().map(|(share, _)| share * cut_off).collect();
        for ((share, contrast), got) in CIRCLE.iter().zip(pencil.transfer(0.0, &frequencies, |_| 1.0)) {
            assert_close!(got.sagittal, *contrast, absolute = allowed, "{samples} {share}");
            assert_close!(got.tangential.contrast(), *contrast, absolute = allowed, "{samples} {share}");
        }
    }
}

/// Waves of defocus W₂₀ at the rim, and Hopkins' response at shares of the cut-off 0.05 to 0.7: H. H. Hopkins, *Proc. R.
/// Soc. A* 231, 1955, 91, as (4/π)∫√(1 − (x + s)²)cos(8πWsx)dx from 0 to 1 − s, by quadrature to 13 digits.
const HOPKINS: [(f64, [f64; 7]); 4] = [
    (0.25, [0.92603952, 0.83886027, 0.65857948, 0.50156958, 0.37942173, 0.28746828, 0.15248922]),
    (0.5, [0.89552084, 0.74208912, 0.43481896, 0.22926449, 0.12569082, 0.08460882, 0.07280762]),
    (1.0, [0.78009261, 0.42664584, -0.01441369, -0.06951503, -0.03688698, -0.02007246, -0.01730271]),
    (2.0, [0.41297029, -0.08395812, 0.04500006, -0.00813765, -0.01554922, -0.00766927, -0.00166751]),
];
const SHARES: [f64; 7] = [0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.7];

/// How far a film must move for `waves` of defocus: the path of the rim ray grows by dz(1 − cos U').
fn shift_for(system: &System, waves: f64) -> f64 {
    let sine = 0.5 * cut_off(system) * 0.55e-3;
    waves * 0.55e-3 / (1.0 - (1.0 - sine * sine).sqrt())
}

#[test]
fn a_perfect_lens_out_of_focus_gives_hopkins() {
    let system = perfect(16.0);
    let pencil = axial(&system, 64);
    let frequencies = SHARES.map(|share| share * cut_off(&system));
    for (waves, responses) in HOPKINS {
        for sign in [1.0, -1.0] {
            let focus = sign * shift_for(&system, waves);
            for (response, got) in responses.iter().zip(pencil.transfer(focus, &frequencies, |_| 1.0)) {
                assert_close!(got.sagittal, *response, absolute = 2e-3, "{waves}");
                assert_close!(got.tangential.contrast(), response.abs(), absolute = 2e-3, "{waves}");
            }
        }
    }
}

/// (f-number, film shift mm, responses at 10, 20, 30, 40 cycles/mm) in 550 nm, Hopkins' integral by quadrature, with
/// W = dz/(8N²λ): the f-number's small-angle form, so that a part in a thousand is forgiven on the shift.
#[test]
fn worked_cases_of_a_defocused_lens() {
    for (f_number, shift, responses) in [
        (8.0, 0.1, [0.92754898, 0.83292088, 0.72981894, 0.62827448]),
        (8.0, 0.25, [0.84432020, 0.57971624, 0.32148512, 0.12972989]),
        (16.0, 0.5, [0.80290997, 0.55346641, 0.35399178, 0.22602951]),
    ] {
        // The stop that makes the exact cone that of the f-number: 2 sin U' = 1/N.
        let mut system = perfect(f_number);
        for _ in 0..4 {
            let semi = system.semi_diameter_mm() / (f_number * cut_off(&system) * 0.55e-3);
            system = system.with_iris(semi).unwrap();
        }
        let pencil = axial(&system, 64);
        for (response, got) in responses.iter().zip(pencil.transfer(shift, &[10.0, 20.0, 30.0, 40.0], |_| 1.0)) {
            assert_close!(got.sagittal, *response, absolute = 2e-3, "{f_number} {shift}");
        }
    }
}

/// A defocused spot by rays alone is an even disc: 2J₁(a)/a with a = 8πWs for small s (Goodman, 6.4); and it is no
/// substitute for diffraction there, which the same places show.
#[test]
fn rays_alone_give_the_disc() {
    let system = perfect(16.0);
    let pencil = axial(&system, 64);
    let focus = shift_for(&system, 2.0);
    let shares = [0.02, 0.05, 0.1];
    let frequencies = shares.map(|share| share * cut_off(&system));
    let diffraction = pencil.transfer(focus, &frequencies, |_| 1.0);
    let rays = pencil.geometric(focus, &frequencies);
    let expected = [(0.87887829, 0.8612558), (0.3929412, 0.41297029), (-0.13147625, -0.08395812)];
    for ((disc, hopkins), (rays, diffraction)) in expected.iter().zip(rays.iter().zip(&diffraction)) {
        assert_close!(rays.sagittal, *disc, absolute = 1.5e-3);
        assert_close!(rays.tangential.contrast(), disc.abs(), absolute = 1.5e-3);
        assert_close!(diffraction.sagittal, *hopkins, absolute = 3e-3);
    }
}

#[test]
fn spots_and_waves_of_defocus_are_those_of_a_disc() {
    let system = perfect(16.0);
    let pencil = axial(&system, 64);
    let focus = shift_for(&system, 2.0);
    let sine = 0.5 * cut_off(&system) * 0.55e-3;
    let radius = focus * sine / (1.0 - sine * sine).sqrt();
    let spot = pencil.spot(focus);
    // An even disc: root mean square R/√2, R/2 in each direction.
    assert_close!(spot.rms_mm(), radius / 2.0f64.sqrt(), relative = 2e-3);
    assert_close!(spot.rms_x_mm, 0.5 * radius, relative = 2e-3);
    // Rim cells count by their middle, which may lie outside by half a cell.
    assert_close!(spot.farthest_mm, radius, relative = 0.5 * 2.0 / 61.0 * 1.5);
    assert_close!(pencil.least_spot_focus_mm(), 0.0, absolute = 1e-9);
    assert_close!(rays::least_spots_focus_mm(&[pencil.clone(), pencil.clone()]), 0.0, absolute = 1e-9);
    let moved = system.clone().with_film(system.film_mm() + focus).unwrap();
    assert_close!(axial(&moved, 64).least_spot_focus_mm(), -focus, relative = 1e-6);
    let found = rays::most_contrast_focus_mm(&[axial(&moved, 32)], 20.0, 3.0);
    assert_close!(found, -focus, absolute = 2e-3);
    // Defocus W over the squared radius: root mean square W/√12, top to bottom W.
    let waves = pencil.waves(focus)[0];
    assert_close!(waves.rms, 2.0 / 12.0f64.sqrt(), relative = 3e-3);
    assert_close!(waves.peak_to_valley, 2.0, relative = 3e-2);
    assert_close!(pencil.waves(0.0)[0].rms, 0.0, absolute = 1e-9);
    // Every cell's phase step: 2W·s of the rim over 64 cells, that is some 4·2/61 waves.
    assert_close!(pencil.phase_step(focus), 8.0 / 61.0, relative = 5e-2);
}

/// The zero of frequency is 1 whatever the aberrations; the film's own response multiplies; a frequency's sign only turns
/// the phase.
#[test]
fn sums_that_any_response_keeps() {
    let system = perfect(16.0);
    let pencil = system.pencil(0.05, &Spectrum::visible(), 32).unwrap();
    let film = |frequency: f64| (-frequency / 50.0f64).exp();
    let bare = pencil.transfer(0.3, &[0.0, 15.0, -15.0], |_| 1.0);
    let filmed = pencil.transfer(0.3, &[0.0, 15.0, -15.0], film);
    assert_close!(bare[0].sagittal, 1.0, absolute = 1e-12);
    assert_close!(bare[0].tangential.re, 1.0, absolute = 1e-12);
    assert_close!(filmed[1].sagittal, bare[1].sagittal * film(15.0), relative = 1e-12);
    assert_close!(filmed[1].tangential.contrast(), bare[1].tangential.contrast() * film(15.0), relative = 1e-12);
    assert_close!(bare[2].tangential.im, -bare[1].tangential.im, absolute = 1e-12);
    assert_close!(bare[2].sagittal, bare[1].sagittal, absolute = 1e-12);
    // Beyond the cut-off nothing arrives.
    let beyond = 1.1 * pencil.cut_off()[0].max(pencil.cut_off()[1]);
    assert_close!(pencil.transfer(0.0, &[beyond], |_| 1.0)[0].sagittal, 0.0, absolute = 1e-12);
    assert_eq!(pencil.wavelengths().count(), 3);
}

/// What a small hole sends on from a point off the axis falls with the fourth power of the cosine.
#[test]
fn light_through_a_hole_falls_with_the_fourth_power_of_the_cosine() {
    let hole = Prescription::new(vec![Row { stop: true, ..Row::new(Surface::PLANE, None, Medium::Air) }]).unwrap();
    let iris = Iris { part: 0, semi_diameter_mm: 0.1 };
    let object = Object::At { distance_mm: 100.0 };
    let system = System::new(object, &[Part { lens: hole, gap_after_mm: 50.0 }], iris).unwrap();
    let light = |field: f64| system.pencil(field, &green(), 64).unwrap().light();
    assert_close!(light(0.0), std::f64::consts::PI * 1e-6, relative = 1e-3);
    for degrees in [20.0f64, 45.0] {
        let share = light(100.0 * degrees.to_radians().tan()) / light(0.0);
        assert_close!(share, degrees.to_radians().cos().powi(4), relative = 1e-3);
    }
}

#[test]
fn spectra_that_are_none_are_refused() {
    assert_eq!(Spectrum::new(vec![], 0), Err(SpectrumError::Empty));
    let line = |weight: f64| vec![(Wavelength::D, 1.0), (Wavelength::F, weight)];
    for weight in [0.0, -1.0, f64::INFINITY] {
        assert_eq!(Spectrum::new(line(weight), 0), Err(SpectrumError::Weight { line: 2, weight }));
    }
    assert!(matches!(Spectrum::new(line(f64::NAN), 0), Err(SpectrumError::Weight { line: 2, .. })));
    assert_eq!(Spectrum::new(line(1.0), 2), Err(SpectrumError::Main { main: 3, lines: 2 }));
    assert!(Spectrum::new(line(0.5), 1).is_ok());
}

/// Where aberrations are several waves and patterns coarse, rays alone tell what diffraction tells: a plano-convex lens wide open, flat side first.
#[test]
fn rays_and_diffraction_agree_where_aberrations_are_large() {
    let rows = vec![
        Row { stop: true, ..Row::new(Surface::PLANE, Some(4.0), Medium::Constant(1.5168)) },
        Row::new(Surface::sphere(-51.68), None, Medium::Air),
    ];
    let parts = [Part { lens: Prescription::new(rows).unwrap(), gap_after_mm: 100.0 }];
    let system = System::new(Object::Infinity, &parts, Iris { part: 0, semi_diameter_mm: 8.0 }).unwrap();
    let pencil = system.with_film_in_focus(Wavelength::D).unwrap().pencil(0.05, &green(), 128).unwrap();
    let focus = pencil.least_spot_focus_mm();
    assert!(pencil.waves(focus)[0].peak_to_valley > 3.0, "{:?}", pencil.waves(focus));
    assert!(pencil.phase_step(focus) < 0.5, "{}", pencil.phase_step(focus));
    let frequencies = [1.0, 2.0, 3.0];
    let both = pencil.transfer(focus, &frequencies, |_| 1.0).into_iter().zip(pencil.geometric(focus, &frequencies));
    for (diffraction, rays) in both {
        assert!(rays.sagittal < 0.999);
        assert_close!(diffraction.sagittal, rays.sagittal, absolute = 0.03);
        assert_close!(diffraction.tangential.re, rays.tangential.re, absolute = 0.03);
        assert_close!(diffraction.tangential.im, rays.tangential.im, absolute = 0.03);
    }
}
