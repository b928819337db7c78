//! What is predicted of set-ups, against traces by hand and the laws of optics.

use super::*;
use kit::{Kit, SetupRequest};
use testkit::assert_close;

fn kit() -> Kit {
    Kit::parse(crate::demo::KIT).expect("the example's kit")
}

fn told(kit: &Kit, parts: &[&str], focus: &str, f_number: f64) -> Told {
    let parts = parts.iter().map(|part| (*part).to_owned()).collect();
    let focus = focus.parse().expect("a focus");
    let request = SetupRequest { parts, focus, f_number: Some(f_number), coc_mm: None };
    predicted(&Setup::resolve(kit, &request).expect("a set-up"), &asked())
}

fn asked() -> Foresee {
    Foresee {
        film_mm: vec![0.0, 35.0],
        corner_mm: 39.6,
        contrasts: vec![0.2],
        cycles_per_mm: vec![20.0],
        chain: Chain::USUAL,
    }
}

const TUBES: [&str; 4] = ["copy-stand-6x6", "tube-26", "tube-52", "normal-85"];

#[test]
fn forms_of_one_kind_stand_for_a_lens_before_others() {
    let keys = |key: &str| -> Vec<&str> {
        alike(&Design::Form(rays::form(key).expect("a form"))).into_iter().take(OTHERS).map(|form| form.key).collect()
    };
    assert_eq!(keys("triplet-derived-1903")[0], "cemented-front-four");
    let gauss = keys("double-gauss-1954");
    assert!(gauss[..2].iter().all(|key| key.starts_with("double-gauss")), "{gauss:?}");
    // No telescope and no projector stands for a camera lens.
    let flat = |key: &&str| is_flat(rays::form(key).expect("a form").kind);
    assert!(gauss.iter().all(flat) && keys("triplet-derived-1903").iter().all(flat));
    assert!(!keys("telephoto").iter().any(flat));
}

#[test]
fn film_and_scanner_by_hand() {
    // Half of the contrast at 40 and at 100 cycles/mm; at 6.35 µm and 40 cycles/mm sinc(0.508 π) and sinc(0.254 π).
    let [soft, fine] = Chain::USUAL.leaves(40.0);
    assert_close!(soft, 0.5 * 0.626_377, absolute = 1e-4);
    assert_close!(fine, 0.862_069 * 0.897_683, absolute = 1e-3);
    assert_close!(Chain::USUAL.leaves(0.0)[0], 1.0, absolute = 0.0);
    // Beyond the first zero of the aperture, 1/12.7 µm, nothing.
    assert_close!(Chain::USUAL.leaves(90.0)[0], 0.0, absolute = 0.0);
}

#[test]
fn a_straight_fall_is_crossed_where_it_says() {
    let (grid, fall) = ([0.0, 10.0, 20.0], [1.0, 0.5, 0.0]);
    assert_close!(crossing(&grid, &fall, 0.2), 16.0, absolute = 1e-12);
    assert_close!(crossing(&grid, &[1.0, 0.9, 0.8], 0.2), 20.0, absolute = 0.0);
    assert_close!(crossing(&grid, &[0.1, 0.0, 0.0], 0.2), 0.0, absolute = 0.0);
}

#[test]
fn forms_that_scatter_more_make_it_wider() {
    // Two others 3 and 4 off: 4.303 · √((9 + 16)/2).
    let two = foretold([50.0, 1.0, 2.0], vec![Some(53.0), None, Some(46.0), None]).expect("told");
    assert_close!(two.of_form, 4.303 * 12.5f64.sqrt(), absolute = 1e-9);
    assert_close!(two.plus_minus(), (two.of_form.powi(2) + 5.0).sqrt(), absolute = 1e-9);
    let wider = foretold([50.0, 1.0, 2.0], vec![Some(56.0), None, Some(42.0), None]).expect("told");
    assert_close!(wider.of_form / two.of_form, 2.0, absolute = 1e-12);
    assert_eq!(foretold([50.0, 1.0, 2.0], vec![Some(53.0), None, None, None]), None);
}

#[test]
fn with_the_same_lens_differences_are_surer_than_figures() {
    let told = |value: f64, others: [f64; 3]| {
        foretold([value, 0.0, 1.0], others.into_iter().map(Some).collect()).expect("told")
    };
    // Every form gives the second 10 more: nothing of the scatter is left in the difference.
    let (p, q) = (told(50.0, [45.0, 55.0, 58.0]), told(60.0, [55.0, 65.0, 68.0]));
    let sure = q.less(&p, true);
    assert_close!(sure.value, 10.0, absolute = 1e-12);
    assert_close!(sure.plus_minus, 0.0, absolute = 1e-9);
    // Of another lens nothing goes with anything.
    assert_close!(q.less(&p, false).plus_minus, p.of_form.hypot(q.of_form), absolute = 1e-9);
    let half = p.scaled(0.5);
    assert_close!(half.plus_minus(), 0.5 * p.plus_minus(), absolute = 1e-12);
    assert_close!(half.others[0].expect("there"), 22.5, absolute = 1e-12);
}

#[test]
fn focusing_scatters_as_three_points_have_it() {
    // A parabola y = 10 − 2 z² over a normal z: mean 8, and Gauss and Hermite's three points have that exactly.
    let at = NODES.map(|(z, _)| [10.0 - 2.0 * z * z; 2]);
    let [mean, half, chain] = over_focus(&at);
    assert_close!(mean, 8.0, absolute = 1e-12);
    // Its variance, 4 · Var(z²) = 8, too.
    assert_close!(half, COVERAGE_95 * 8.0f64.sqrt(), absolute = 1e-9);
    assert_close!(chain, 0.0, absolute = 0.0);
    // A tenth of the contrast of a disc: 2 J₁(x)/x = 0.9 at x = 0.906 (Abramowitz & Stegun, table 9.1), by x²/8 at 0.894.
    assert_close!(focus_error_mm(22.0), 22.0 * 0.906 / (std::f64::consts::PI * 11.0), relative = 0.02);
}

#[test]
fn closed_far_beyond_diffraction_the_form_hardly_matters_and_fineness_falls() {
    let kit = kit();
    let told =
        |f: f64| told(&kit, &TUBES, "travel=5.3", f).expect("told").places[0].resolution[0].clone().expect("lit");
    let (f11, f22) = (told(11.0), told(22.0));
    assert!(f22.value < f11.value, "{f22:?} {f11:?}");
    assert!(f22.of_form < 0.1 * f22.value, "{f22:?}");
    // A perfect lens at the same effective f-number is the most that the middle can be, film and scanner at their best.
    let found = super::tests::told(&kit, &TUBES, "travel=5.3", 22.0).expect("told");
    // Light is the kit's, whatever the form's pupils.
    let parts = TUBES.iter().map(|part| (*part).to_owned()).collect();
    let focus = "travel=5.3".parse().expect("a focus");
    let setup = Setup::resolve(&kit, &SetupRequest { parts, focus, f_number: Some(22.0), coc_mm: None });
    let report = setup.expect("a set-up").report().expect("figures");
    let own = report.figures.get(optics::Figure::EffectiveFNumber).expect("told").value;
    assert_close!(found.f_number, own, relative = 1e-6);
    let perfect = |f: f64| optics::diffraction_mtf(545e-6, found.f_number, f) * Chain::USUAL.leaves(f)[1];
    assert!(perfect(f22.value) > 0.2, "{f22:?}");
    // And near it: of the soft and the fine end the mean, a little lost by focusing.
    assert!(perfect(f22.value + f22.of_chain + 2.0 * f22.of_focus + 5.0) < 0.2, "{f22:?}");
}

#[test]
fn wide_open_the_corner_is_softer_and_less_sure() {
    let found = told(&kit(), &TUBES, "travel=5.3", 4.0).expect("told");
    let at = |place: usize| found.places[place].resolution[0].clone().expect("lit");
    assert!(at(1).value < at(0).value, "{found:?}");
    let share = |told: Foretold| told.of_form / told.value;
    assert!(share(at(1)) > 0.2, "{found:?}");
    assert_eq!(found.others.len(), OTHERS);
    let contrast = found.places[0].contrast[0].clone().expect("lit");
    assert!((0.0..1.0).contains(&contrast.value));
}

/// Lateral colour on the axis is none, by symmetry; off it a lens on tubes has some.
#[test]
fn colour_is_none_in_the_middle_and_some_outside() {
    let found = told(&kit(), &TUBES, "travel=5.3", 8.0).expect("told");
    let um = |place: usize| found.places[place].fringing_um.clone().expect("told").value;
    assert_close!(um(0), 0.0, absolute = 1e-6);
    assert!(um(1) > 0.5, "{found:?}");
}

#[test]
fn without_a_form_nothing_is_predicted_and_the_refusal_says_what_to_do() {
    let bare = crate::demo::KIT.replace("design_form", "# design_form");
    let kit = Kit::parse(&bare).expect("a kit");
    let why = told(&kit, &TUBES, "travel=5.3", 8.0).expect_err("no form").to_string();
    assert!(why.contains("no design form is chosen for lens \"normal-85\""), "{why}");
}

/// Rows of the library pasted as a table of one's own are the form: the same figures and, since the form itself is then no other
/// one, the same intervals.
#[test]
fn a_pasted_form_predicts_what_the_form_does() {
    let own = crate::demo::KIT.replace("double-gauss-1954", "pasted")
        + "\n[[lens_table]]\nid = \"pasted\"\nsurfaces = \"\"\"\n"
        + super::super::design::PASTED
        + "\"\"\"\n";
    let [form, own] = [kit(), Kit::parse(&own).expect("a kit")]
        .map(|kit| told(&kit, &TUBES, "travel=5.3", 8.0).expect("told").as_ref().clone());
    assert!(own.forms[0].1.own().is_some() && form.forms[0].1.own().is_none());
    assert_eq!(own.others, form.others);
    for (own, form) in own.places.iter().zip(&form.places) {
        let [own, form] = [own, form].map(|place| {
            let figures = place.resolution.iter().chain(&place.contrast).chain([&place.fringing_um]);
            figures.map(|told| told.as_ref().map_or([0.0; 2], |t| [t.value, t.plus_minus()])).collect::<Vec<_>>()
        });
        for (own, form) in own.iter().flatten().zip(form.iter().flatten()) {
            assert_close!(*own, *form, absolute = 1e-6);
        }
    }
}

/// A lens that focuses inside has twice the scatter of forms and the same figure as one of that focal length that moves as a whole.
#[test]
fn inside_focus_is_told_less_surely() {
    let sure = foretold([50.0, 1.0, 2.0], vec![Some(53.0), None, Some(46.0), None]).expect("told");
    let unsure = sure.clone().scattered(INSIDE_SCATTERS);
    assert_close!(unsure.value, sure.value, absolute = 0.0);
    assert_close!(unsure.of_form, 2.0 * sure.of_form, relative = 1e-12);
    assert_eq!(unsure.others, [Some(56.0), None, Some(42.0), None]);
    let inside = "\n[[lens]]\nid = \"inside-85\"\nmount = \"wide-bayonet\"\nfocal_length_mm = 85\nmax_aperture = 2.8\n\
                  length_mm = 60\nfocusing = \"internal\"\nclose_focus_mm = 430\nmax_magnification = 0.3\n\
                  design_form = \"double-gauss-1954\"\n";
    let kit = Kit::parse(&(crate::demo::KIT.to_owned() + inside)).expect("a kit");
    let parts = ["copy-stand-6x6", "inside-85"].map(str::to_owned).to_vec();
    let setup = |focus: &str| {
        let focus = focus.parse().expect("a focus");
        Setup::resolve(&kit, &SetupRequest { parts: parts.clone(), focus, f_number: Some(8.0), coc_mm: None })
    };
    let (far, near) = (setup("infinity").expect("a set-up"), setup("closest").expect("a set-up"));
    assert_eq!(super::inside(&far), None);
    let focal_mm = super::inside(&near).expect("moved inside");
    // By the marks: f = (D·m)/(1 + m)² for a thin lens, and D = 430, m = 0.3.
    assert_close!(focal_mm, 430.0 * 0.3 / 1.69, relative = 0.01);
    assert_close!(Cast::of(&near).expect("cast").scatters, 2.0, absolute = 0.0);
}

#[test]
fn of_a_converter_nothing_is_predicted() {
    let why = told(&kit(), &["copy-stand-6x6", "converter-14", "tube-26", "normal-85"], "travel=5", 8.0);
    let why = why.expect_err("the best case alone").to_string();
    assert!(why.contains("converter \"converter-14\"") && why.contains("best case"), "{why}");
}

#[test]
fn a_form_without_printed_dispersion_says_nothing_of_colour() {
    let odd = crate::demo::KIT.replace("triplet-derived-1903", "telephoto");
    let kit = Kit::parse(&odd).expect("a kit");
    let found = told(&kit, &["copy-stand-6x6", "tube-52", "tube-26", "long-160"], "closest", 16.0).expect("told");
    assert_eq!(found.places[1].fringing_um, None);
    assert!(found.places[0].resolution[0].is_some());
}

#[test]
fn too_few_forms_that_can_be_traced_are_no_scatter() {
    let why = BenchError::NoScatter { usable: 1, least: LEAST_OTHERS }.to_string();
    assert!(why.contains("1 of the forms") && why.contains("2 are needed"), "{why}");
}

#[test]
fn what_was_asked_once_is_known() {
    let kit = kit();
    let parts = TUBES.iter().map(|part| (*part).to_owned()).collect();
    let focus = "travel=5.1".parse().expect("a focus");
    let request = SetupRequest { parts, focus, f_number: Some(13.0), coc_mm: None };
    let setup = Setup::resolve(&kit, &request).expect("a set-up");
    assert!(predicted_already(&setup, &asked()).is_none());
    let found = predicted(&setup, &asked()).expect("told");
    assert_eq!(predicted_already(&setup, &asked()).expect("kept").expect("told"), found);
}
