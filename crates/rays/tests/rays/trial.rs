//! What attachments do to one form, the double Gauss of 1954 at 80 mm and f/16. Recorded values: computed here, not published
//! anywhere; each stands beside the law or the trade's experience that it agrees with.

use rays::{
    CloseUp, CloseUpKind, Iris, Object, Part, Pencil, Prescription, Spectrum, System, Wavelength, form,
    most_contrast_focus_mm,
};
use testkit::assert_close;

fn lens() -> Prescription {
    form("double-gauss-1954").unwrap().scaled_to(80.0).unwrap()
}

/// The lens f/16 with its last vertex `film_mm` before the film, parts before it, the subject where it is sharp.
fn set_up(before: Vec<Part>, lens: Prescription, film_mm: f64, far: bool) -> System {
    let semi_diameter_mm = self::lens().semi_diameter_for(16.0, Wavelength::D).unwrap();
    let part = before.len();
    let parts: Vec<Part> = before.into_iter().chain([Part { lens, gap_after_mm: film_mm }]).collect();
    let system = System::new(Object::Infinity, &parts, Iris { part, semi_diameter_mm }).unwrap();
    if far { system } else { system.with_object_in_focus(Wavelength::D).unwrap() }
}

/// Contrast at 20 cycles/mm in the centre, and 14 and 28 mm out on film sagittally and tangentially, focused for the most in
/// the centre.
fn contrast(system: &System) -> [f64; 5] {
    let spectrum = Spectrum::visible();
    let pencil = |film: f64| {
        let field = if film == 0.0 { 0.0 } else { system.field_at_film(film, Wavelength::D).unwrap() };
        system.pencil(field, &spectrum, 64).unwrap()
    };
    let pencils = [0.0, -14.0, -28.0].map(pencil);
    let focus = most_contrast_focus_mm(&pencils[..1], 20.0, 0.5);
    let at = |pencil: &Pencil| {
        assert!(pencil.phase_step(focus) < 0.5, "too coarse a grid");
        let transfer = pencil.transfer(focus, &[20.0], |_| 1.0)[0];
        [transfer.sagittal, transfer.tangential.contrast()]
    };
    let [centre, near, far] = pencils.each_ref().map(at);
    [centre[0], near[0], near[1], far[0], far[1]]
}

/// F less C by their chief rays at 14 and 28 mm on film, micrometres.
fn lateral_um(system: &System) -> [f64; 2] {
    [14.0, 28.0].map(|film| {
        let field = system.field_at_film(film, Wavelength::D).unwrap();
        1e3 * system.lateral_colour_mm(field, Wavelength::F, Wavelength::C).unwrap()
    })
}

fn recorded(system: &System, contrasts: [f64; 5], lateral: [f64; 2]) {
    for (got, recorded) in contrast(system).into_iter().zip(contrasts) {
        assert_close!(got, recorded, absolute = 2e-3);
    }
    for (got, recorded) in lateral_um(system).into_iter().zip(lateral) {
        assert_close!(got, recorded, absolute = 0.1);
    }
}

fn back() -> f64 {
    lens().at(Wavelength::D).cardinal().unwrap().back_focus_mm
}

/// Alone and far: near the limit of diffraction in the centre (0.762 in d at f/16), little lost at the edge.
#[test]
fn alone_and_far() {
    recorded(&set_up(vec![], lens(), back(), true), [0.763, 0.748, 0.752, 0.740, 0.698], [0.7, 3.4]);
}

/// On 80 mm of tubes at life size the centre loses to diffraction (f/31), and the corners to coma and colour that the lens was
/// never corrected for at that distance.
#[test]
fn on_tubes_at_life_size() {
    let system = set_up(vec![], lens(), back() + 80.0, false);
    assert_close!(system.first_order(Wavelength::D).scale, -1.0, absolute = 1e-9);
    recorded(&system, [0.547, 0.520, 0.324, 0.242, 0.0275], [-13.6, -30.2]);
}

/// At twice life size the lens turned round keeps half as much again sagittally and ten times as much tangentially at the
/// edge; at life size it makes no difference (it is nearly symmetrical).
#[test]
fn turned_round_at_twice_life_size() {
    let tubes = set_up(vec![], lens(), back() + 160.0, false);
    recorded(&tubes, [0.352, 0.343, 0.179, 0.2265, 0.0113], [-18.2, -38.1]);
    let front = -lens().at(Wavelength::D).cardinal().unwrap().front_focus_mm;
    let turned = set_up(vec![], lens().reversed(), front + 160.0, false);
    assert_close!(turned.first_order(Wavelength::D).scale, -2.0, absolute = 1e-9);
    recorded(&turned, [0.343, 0.3414, 0.301, 0.3185, 0.155], [8.7, 18.2]);
}

/// A +4 plano-convex close-up lens in front: lateral colour several times that of tubes at far less magnification; an
/// achromat of the same power has hardly any, and a field that is curved as much.
#[test]
fn behind_a_close_up_lens() {
    let close = CloseUp { power_dpt: 4.0, diameter_mm: 49.0, kind: CloseUpKind::PlanoConvex };
    let with = |close: CloseUp| {
        let part = Part { lens: close.prescription().unwrap(), gap_after_mm: 5.0 };
        set_up(vec![part], lens(), back(), false)
    };
    recorded(&with(close), [0.717, 0.540, 0.256, -0.043, 0.0236], [37.2, 89.5]);
    let achromat = with(CloseUp { kind: CloseUpKind::Achromat, ..close });
    recorded(&achromat, [0.763, 0.583, 0.543, -0.047, 0.093], [3.5, 4.9]);
    assert_close!(achromat.first_order(Wavelength::D).scale, -0.32, absolute = 1e-9);
}
