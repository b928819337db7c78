//! Which figures are too bent for first order, and their intervals by simulation (JCGM 101:2008).

use crate::common::{BENCH, Chance, read, request};
use kit::{Focus, Setup};
use optics::{COVERAGE_95, Figure, Simulation, Trials};
use testkit::assert_close;

/// The bench lens without a pupil ratio: 1 ± 0.4 is assumed.
fn unknown_pupils() -> String {
    BENCH.replace("pupil_ratio = 0.8\n", "")
}

fn steep(text: &str, parts: &str) -> Vec<Figure> {
    let kit = read(text);
    let report = Setup::resolve(&kit, &request(parts, Focus::Infinity)).and_then(|setup| setup.report()).unwrap();
    report.steep.iter().map(|(figure, _)| *figure).collect()
}

#[test]
fn an_unknown_pupil_ratio_bends_the_light_and_nothing_that_it_does_not_touch() {
    let found = steep(&unknown_pupils(), "body,tube,bellows=120,lens");
    // N(1 + m/P) with P = 1 ± 0.4: at 0.6 it is 1.67 of m, at 1.4 0.71.
    assert!(found.contains(&Figure::EffectiveFNumber), "{found:?}");
    assert!(found.contains(&Figure::ExposureStops), "{found:?}");
    for figure in [Figure::Magnification, Figure::SubjectToFilm, Figure::Extension, Figure::FieldWidth] {
        assert!(!found.contains(&figure), "{}: {found:?}", figure.label());
    }
}

#[test]
fn a_well_known_set_up_has_none() {
    let mut text = BENCH.to_string();
    for (field, value) in [("focal_length_mm", "100"), ("register_mm", "80"), ("principal_separation_mm", "6")] {
        text = text
            .replace(&format!("{field} = {value}\n"), &format!("{field} = {{ value = {value}, plus_minus = 0.1 }}\n"));
    }
    assert_eq!(steep(&text, "body,tube,lens"), []);
    assert_eq!(steep(&text, "body,tube,ring,lens"), []);
    assert_eq!(steep(&text, "body,tube,lens,two"), []);
}

#[test]
fn a_drawn_interval_is_that_of_a_simulation_of_one_s_own() {
    let kit = read(&unknown_pupils());
    let setup = Setup::resolve(&kit, &request("body,tube,bellows=120,lens", Focus::Infinity)).unwrap();
    let simulation = Simulation::new(11, Trials::Fixed(200_000)).unwrap();
    let drawn = setup.drawn(&simulation).unwrap();
    let report = setup.report().unwrap();
    let interval = |figure| {
        let (_, checked) = drawn.iter().find(|(f, _)| *f == figure).unwrap();
        (checked.drawn.is_some(), checked.interval().unwrap())
    };
    let mut chance = Chance(3);
    let mut normal = move || {
        // Box and Muller 1958.
        let share = |chance: &mut Chance| (chance.below(1 << 30) as f64 + 0.5) / f64::from(1 << 30);
        let (u, v) = (share(&mut chance), share(&mut chance));
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    };
    let trials = 100_000;
    let mut values: Vec<(Figure, Vec<f64>)> =
        [Figure::EffectiveFNumber, Figure::ExposureStops, Figure::Magnification].map(|f| (f, Vec::new())).into();
    for _ in 0..trials {
        let spec = setup.spec().map(&mut |input| input.value + input.plus_minus / COVERAGE_95 * normal());
        let figures = spec.figures(setup.coc_mm()).unwrap();
        for (figure, list) in &mut values {
            list.push(figures.get(*figure).unwrap());
        }
    }
    for (figure, mut list) in values {
        list.sort_by(f64::total_cmp);
        let own = [0.025, 0.975].map(|share| list[(share * f64::from(trials)) as usize]);
        let (is_drawn, (low, high)) = interval(figure);
        assert_eq!(is_drawn, report.steep.iter().any(|(f, _)| *f == figure), "{}", figure.label());
        // Where first order holds it is within a tenth of the half-width; a drawn end scatters by a hundredth or so of
        // it.
        let off = if is_drawn { 0.05 } else { 0.1 } * (own[1] - own[0]);
        assert_close!(low, own[0], absolute = off, "{}", figure.label());
        assert_close!(high, own[1], absolute = off, "{}", figure.label());
    }
}

#[test]
fn at_the_closest_mark_of_its_scale_an_internally_focusing_lens_can_be_doubted_both_ways() {
    let text = BENCH
        .replace("max_magnification = 0.2", "focusing = \"internal\"\nclose_focus_mm = 650\nmax_magnification = 0.25");
    let kit = read(&text);
    let setup = Setup::resolve(&kit, &request("body,lens", Focus::Distance(650.0))).unwrap();
    let report = setup.report().unwrap();
    assert!(report.steep.iter().all(|(_, share)| share.is_finite()), "{:?}", report.steep);
    let simulation = Simulation::new(5, Trials::Fixed(20_000)).unwrap();
    for (figure, checked) in setup.drawn(&simulation).unwrap() {
        assert_close!(checked.missing_share(), 0.0, absolute = 0.0, "{}", figure.label());
    }
}

/// A lens whose own register is stated as the body's is adjusted to it: infinity is infinity, whatever the two doubts.
const ADJUSTED: &str = "[[body]]\nid = \"b\"\nframe_mm = [56, 56]\nregister_mm = 80\nmount = \"m\"\n\
    [[lens]]\nid = \"l\"\nmount = \"m\"\nfocal_length_mm = { value = 90, plus_minus = 0.1 }\nmax_aperture = 2.8\nlength_mm = 68\nregister_mm = { value = 80, plus_minus = 0.2 }\n\
    [[body]]\nid = \"thin\"\nframe_mm = [56, 56]\nregister_mm = { value = 68, plus_minus = 0.2 }\nmount = \"n\"\n\
    [[adapter]]\nid = \"ring\"\nlens_mount = \"m\"\nbody_mount = \"n\"\nlength_mm = { value = 12, plus_minus = 0.2 }\n";

#[test]
fn a_lens_at_infinity_is_there_in_every_possible_kit() {
    assert_eq!(steep(ADJUSTED, "b,l"), []);
    // By an adapter it is so within its thickness, half of the time on the far side of infinity. There it stands at infinity:
    // neither the light nor the extension knows of it.
    let found = steep(ADJUSTED, "thin,ring,l");
    for figure in [Figure::Extension, Figure::EffectiveFNumber, Figure::AiryDiameter] {
        assert!(!found.contains(&figure), "{found:?}");
    }
    let kit = read(ADJUSTED);
    let setup = Setup::resolve(&kit, &request("thin,ring,l", Focus::Infinity)).unwrap();
    let drawn = setup.drawn(&Simulation::new(5, Trials::Fixed(20_000)).unwrap()).unwrap();
    let of = |figure| drawn.iter().find(|(f, _)| *f == figure).unwrap().1;
    let (low, high) = of(Figure::Magnification).interval().unwrap();
    assert_close!(low, 0.0, absolute = 1e-9);
    // Three lengths, ± 0.2 mm each, over the focal length.
    assert_close!(high, 0.2 * 3_f64.sqrt() / 90.0, relative = 0.05);
    assert_eq!(of(Figure::Magnification).missing_share(), 0.0);
    // In half of them the subject is infinitely far.
    assert_close!(of(Figure::SubjectToFilm).missing_share(), 0.5, absolute = 0.02);
}
