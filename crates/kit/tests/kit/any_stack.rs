//! Closed forms for every kind of stack, worked out by hand: thin lenses imaged one after another, the light from the
//! pupil ratio.

use crate::common::trace::{Assembly, Lens};
use crate::common::{look, read, report_of, request, value};
use kit::{Focus, Report, SetupRequest};
use optics::Figure::{self, EffectiveFNumber, Extension, Magnification, SubjectToFilm, WorkingDistance};
use testkit::assert_close;

/// A body and lens of 120 mm with pupils of one size; what follows is added.
const LONG: &str = r#"
[[body]]
id = "body"
frame_mm = [56, 56]
register_mm = 80
mount = "m"
[[lens]]
id = "lens"
mount = "m"
focal_length_mm = 120
max_aperture = 5.6
pupil_ratio = 1
length_mm = 60
principal_separation_mm = 0
max_magnification = 0.5
thread_mm = 52
[[lens]]
id = "short"
mount = "m"
focal_length_mm = 50
max_aperture = 2
pupil_ratio = 1
length_mm = 40
principal_separation_mm = 0
thread_mm = 52
[[tube]]
id = "tube-32"
mount = "m"
length_mm = 32
[[tube]]
id = "tube-12"
mount = "m"
length_mm = 12
[[teleconverter]]
id = "converter"
mount = "m"
factor = 1.4
length_mm = 12
[[coupling_ring]]
id = "couple"
threads_mm = [52, 52]
[[step_ring]]
id = "up"
from_mm = 52
to_mm = 58
thickness_mm = 2
[[reversing_ring]]
id = "reverse-58"
mount = "m"
thread_mm = 58
thickness_mm = 4
[[reversing_ring]]
id = "reverse-52"
mount = "m"
thread_mm = 52
thickness_mm = 6
[[close_up_lens]]
id = "two"
power_dpt = 2
thread_mm = 52
gap_mm = 3
[[close_up_lens]]
id = "big-two"
power_dpt = 2
thread_mm = 58
gap_mm = 3
[[bellows]]
id = "bellows"
mount = "m"
draw_mm = [40, 250]
"#;

fn check(report: &Report, expected: &[(Figure, f64)]) {
    for &(figure, by_hand) in expected {
        assert_close!(value(report, figure), by_hand, relative = 1e-11, "{}", figure.label());
    }
}

#[test]
fn a_tube_in_front_of_a_converter_is_enlarged_with_the_picture() {
    // Lens alone on 32 mm: 32/120; the converter enlarges that 1.4 times, and the cone is 1.4 times as slender.
    let report = look(LONG, "body,converter,tube-32,lens", Focus::Infinity);
    check(
        &report,
        &[(Magnification, 0.373_333_333_333_333_35), (EffectiveFNumber, 9.930_666_666_666_665), (Extension, 32.0)],
    );
    // The subject lies where it lies without the converter, which is 12 mm long: 12 mm farther from the film.
    let u = 120.0 * (1.0 + 120.0 / 32.0);
    check(
        &report,
        &[(SubjectToFilm, u + 120.0 + 32.0 + 12.0), (WorkingDistance, u + 120.0 + 32.0 - 80.0 - 32.0 - 60.0)],
    );
}

#[test]
fn at_infinity_a_converter_lengthens_the_lens() {
    let report = look(LONG, "body,converter,lens", Focus::Infinity);
    assert_close!(value(&report, EffectiveFNumber), 5.6 * 1.4, relative = 1e-12);
    assert_close!(value(&report, Magnification), 0.0, absolute = 0.0);
    assert_eq!(report.figures.get(SubjectToFilm), None);
}

#[test]
fn a_tube_behind_a_converter_lengthens_its_throw() {
    // k = 1.4 and 12 mm: the picture lies 30 mm behind the glass without it and 42 mm with it, so its focal length is
    // −105. 12 mm more: k' = 1 + 54/105, and it now wants a picture 35.66 mm behind it, 5.66 mm farther than the lens
    // at infinity gives.
    let (k, object) = (1.4 + 12.0 / 105.0, 35.660_377_358_490_564);
    assert_close!(k, 1.514_285_714_285_714_2, relative = 1e-15);
    let report = look(LONG, "body,tube-12,converter,lens", Focus::Infinity);
    let own = (object - 30.0) / 120.0;
    check(&report, &[(Magnification, k * own), (EffectiveFNumber, 5.6 * k * (1.0 + own)), (Extension, 12.0)]);
    let u = 120.0 * (1.0 + 1.0 / own);
    // The rear principal plane stands where the lens stands: 120 mm in front of where its own film would be.
    check(&report, &[(SubjectToFilm, u + 120.0 + 12.0 + 12.0), (WorkingDistance, u + 120.0 - 80.0 - 60.0)]);
}

#[test]
fn a_converter_of_another_register_is_a_tube_or_lacks_one() {
    // Built for 74 on a body of 80: 6 mm behind it too many. k' = 1.4 + 6/105; it wants its picture 1/(1/48 + 1/105)
    // behind the glass, and the lens, 80 mm from its own picture, gives it 30 + 80 − 74 = 36 mm behind the glass at
    // infinity.
    let text = LONG.replace("factor = 1.4", "factor = 1.4\nregister_mm = 74");
    let words = report_of(&read(&text), &request("body,converter,lens", Focus::Infinity)).unwrap_err().to_string();
    let object: f64 = 1.0 / (1.0 / 48.0 + 1.0 / 105.0);
    assert!(words.contains(&format!("{:.1} mm too near", 36.0 - object)), "{words}");
    let report = look(&text, "body,converter,tube-12,lens", Focus::Infinity);
    let own = (object - 36.0 + 12.0) / 120.0;
    check(&report, &[(Magnification, (1.4 + 6.0 / 105.0) * own)]);
}

#[test]
fn a_register_within_its_uncertainty_is_the_body_s_for_a_converter_too() {
    let text = LONG.replace("factor = 1.4", "factor = 1.4\nregister_mm = 80.05");
    assert_close!(value(&look(&text, "body,converter,lens", Focus::Infinity), Magnification), 0.0, absolute = 0.0);
}

#[test]
fn coupled_at_infinity_the_magnification_is_the_ratio_of_focal_lengths_whatever_the_gap() {
    for thickness in [0.0, 3.0, 17.0] {
        let text = LONG.replace("threads_mm = [52, 52]", &format!("threads_mm = [52, 52]\nthickness_mm = {thickness}"));
        let report = look(&text, "body,lens,couple,short", Focus::Infinity);
        // m = 120/50. On the axis the first lens passes f/5.6, the second m·f/2 = f/4.8 on this side.
        check(&report, &[(Magnification, 2.4), (EffectiveFNumber, 5.6), (Extension, 0.0)]);
        assert_eq!(report.limited_by, "lens");
        // The subject lies where a film would lie behind the second lens: 80 mm from its seat.
        check(&report, &[(WorkingDistance, 80.0), (SubjectToFilm, 80.0 + 60.0 + thickness + 40.0 + 80.0)]);
        // The other way round: 50/120, and the second lens, 5.6·50/120 = 2.33, limits f/2.
        let report = look(&text, "body,short,couple,lens", Focus::Infinity);
        check(&report, &[(Magnification, 1.0 / 2.4), (EffectiveFNumber, 5.6 / 2.4), (WorkingDistance, 80.0)]);
        assert_eq!(report.limited_by, "lens");
    }
}

#[test]
fn the_f_number_asked_for_is_that_of_the_lens_nearest_the_body() {
    let kit = read(LONG);
    // Ne = max(N1, m·N2): f/2.8 on the short lens is wider than 5.6/2.4 no longer.
    for (asked, effective, limiting) in [(2.0, 5.6 / 2.4, "lens"), (2.8, 2.8, "short"), (8.0, 8.0, "short")] {
        let wanted = SetupRequest { f_number: Some(asked), ..request("body,short,couple,lens", Focus::Infinity) };
        let report = report_of(&kit, &wanted).unwrap();
        assert_close!(value(&report, EffectiveFNumber), effective, relative = 1e-12);
        assert_eq!(report.limited_by, limiting);
    }
}

#[test]
fn an_adapter_is_length_that_is_no_extension() {
    let text = LONG.to_string()
        + "[[adapter]]\nid = \"adapter\"\nbody_mount = \"m\"\nlens_mount = \"n\"\nlength_mm = 9\n\
           [[lens]]\nid = \"other\"\nmount = \"n\"\nfocal_length_mm = 100\nmax_aperture = 4\npupil_ratio = 1\nlength_mm = 50\n\
           principal_separation_mm = 0\nregister_mm = 85\n\
           [[tube]]\nid = \"tube-n\"\nmount = \"n\"\nlength_mm = 16\n";
    // Seat at 89, built for 85: 4 mm too many. With tubes on both sides of the adapter 4 + 12 + 16.
    check(&look(&text, "body,adapter,other", Focus::Infinity), &[(Magnification, 0.04), (Extension, 0.0)]);
    let both = look(&text, "body,tube-12,adapter,tube-n,other", Focus::Infinity);
    check(
        &both,
        &[
            (Magnification, 0.32),
            (Extension, 28.0),
            (WorkingDistance, 100.0 * (1.0 + 1.0 / 0.32) + 100.0 + 32.0 - 117.0 - 50.0),
        ],
    );
}

#[test]
fn a_step_ring_on_a_rim_and_behind_a_reversing_ring() {
    // On the rim it moves the close-up lens 2 mm out. At infinity that costs no magnification: 0.002·120.
    let report = look(LONG, "body,lens,up,big-two", Focus::Infinity);
    check(
        &report,
        &[(Magnification, 0.24), (WorkingDistance, 500.0), (SubjectToFilm, 80.0 + 60.0 + 2.0 + 3.0 + 500.0)],
    );
    // With tube and step: rim at 172, glass at 177, 25 mm in front of H (152). m0 = 32/120, u0 = 120(1 + 120/32).
    let (m0, u0) = (32.0 / 120.0, 120.0 * (1.0 + 120.0 / 32.0));
    let report = look(LONG, "body,tube-32,lens,up,big-two", Focus::Infinity);
    check(
        &report,
        &[(Magnification, m0 * (1.0 + 0.002 * (u0 - 25.0))), (WorkingDistance, 1.0 / (0.002 + 1.0 / (u0 - 25.0)))],
    );
    // Behind a reversing ring of 58 it is met from its 58 mm side and leaves 52; rim to H is 60 + 80 − 120.
    // v = 112 + 4 + 2 + 20 = 138.
    check(&look(LONG, "body,tube-32,reverse-58,up,lens", Focus::Infinity), &[(Magnification, 18.0 / 120.0)]);
    let words = report_of(&read(LONG), &request("body,reverse-52,up,lens", Focus::Infinity)).unwrap_err().to_string();
    assert!(words.contains("52 mm thread meets a 58 mm thread"), "{words}");
}

#[test]
fn reversed_behind_tubes_bellows_and_converter() {
    // The short lens: rim to H = 40 + 80 − 50 = 70. Ring 6, tubes 44: v = 80 + 44 + 6 + 70 = 200, m = 3.
    let report = look(LONG, "body,tube-32,tube-12,reverse-52,short", Focus::Infinity);
    check(&report, &[(Magnification, 3.0), (EffectiveFNumber, 2.0 * 4.0), (Extension, 44.0)]);
    check(&report, &[(WorkingDistance, 50.0 * (1.0 + 1.0 / 3.0) + 30.0)]);
    let report = look(LONG, "body,bellows=144,reverse-52,short", Focus::Infinity);
    check(&report, &[(Magnification, 5.0), (WorkingDistance, 60.0 + 30.0), (Extension, 144.0)]);
    // In front of a converter: the lens's own picture lies 80 mm behind the converter's front face, v = 80 + 6 + 70 =
    // 156.
    let report = look(LONG, "body,converter,reverse-52,short", Focus::Infinity);
    let own = 156.0 / 50.0 - 1.0;
    check(&report, &[(Magnification, 1.4 * own), (EffectiveFNumber, 2.0 * 1.4 * (1.0 + own)), (Extension, 0.0)]);
}

#[test]
fn held_by_hand() {
    // 45 mm of air between body and seat: as a tube of 45 mm, but no extension; in front of a tube of 12 as one of 57.
    check(&look(LONG, "body,free=45,lens", Focus::Infinity), &[(Magnification, 45.0 / 120.0), (Extension, 0.0)]);
    let report = look(LONG, "body,tube-12,free=45,lens,two", Focus::Infinity);
    let (m0, u0) = (57.0 / 120.0, 120.0 * (1.0 + 120.0 / 57.0));
    // Rim at 80 + 57 + 60 = 197, glass at 200; H at 177.
    check(&report, &[(Magnification, m0 * (1.0 + 0.002 * (u0 - 23.0))), (Extension, 12.0)]);
    // Turned round: the rim lies at the end of the air. v = 80 + 24 + 70 = 174.
    let report = look(LONG, "body,free=24,short=reversed", Focus::Infinity);
    check(&report, &[(Magnification, 174.0 / 50.0 - 1.0), (Extension, 0.0)]);
    check(&report, &[(WorkingDistance, 50.0 * (1.0 + 50.0 / 124.0) + 30.0)]);
    assert_eq!(
        kit::Setup::resolve(&read(LONG), &request("body,free=24,short=reversed", Focus::Infinity))
            .map(|setup| (setup.hold().free, setup.hold().facing)),
        Ok((true, kit::Facing::Reversed))
    );
}

#[test]
fn a_close_up_lens_held_before_the_rim() {
    // 25 mm in front of the rim itself: its own gap counts only when it is screwed in. Rim at 172, H at 152: 45 mm.
    let (m0, u0) = (32.0 / 120.0, 120.0 * (1.0 + 120.0 / 32.0));
    let report = look(LONG, "body,tube-32,lens,free=25,two", Focus::Infinity);
    check(
        &report,
        &[
            (Magnification, m0 * (1.0 + 0.002 * (u0 - 45.0))),
            (SubjectToFilm, 197.0 + 1.0 / (0.002 + 1.0 / (u0 - 45.0))),
        ],
    );
}

#[test]
fn a_lens_held_before_a_close_up_lens() {
    // A second lens reversed in front of a close-up lens on the first. At infinity the close-up lens wants its light
    // from 500 mm; the rim of the second lies 10 mm before it, H another 70: the second lens must throw a picture 500
    // mm from the close-up lens, behind the subject, as a magnifier: 420 mm before its own H.
    let report = look(LONG, "body,lens,two,free=10,short=reversed", Focus::Infinity);
    let virtual_at = 420.0;
    let s = 1.0 / (1.0 / 50.0 + 1.0 / virtual_at);
    let m = 120.0 * 0.002 * (virtual_at / s);
    check(&report, &[(Magnification, m), (WorkingDistance, s + 30.0)]);
}

#[test]
fn published_pupil_factors() {
    // Ne = N(1 + m/P), reversed N(1/P + m)·… : Ray, *Applied Photographic Optics*, from memory; figures by own
    // calculation.
    let lens = Lens { f: 60.0, p: 1.5, n: 8.0, length: 50.0, separation: 0.0, register: 80.0 };
    let mut normal = Assembly::on(80.0, None);
    normal.tube(120.0, None);
    normal.lens(&lens, "m", 0.0);
    let report = look(&normal.text, &normal.parts.join(","), Focus::Infinity);
    check(&report, &[(Magnification, 2.0), (EffectiveFNumber, 18.666_666_666_666_664)]);
    // Reversed: v = 180; rim to H 50 + 80 − 60 = 70; 30 mm of tube.
    let mut reversed = Assembly::on(80.0, None);
    reversed.tube(30.0, None);
    reversed.reversing_ring(0.0, None);
    reversed.reversed_lens(&lens, false, 0.0);
    let report = look(&reversed.text, &reversed.parts.join(","), Focus::Infinity);
    check(&report, &[(Magnification, 2.0), (EffectiveFNumber, 21.333_333_333_333_332)]);
    // A telephoto lens.
    let mut long = Assembly::on(80.0, None);
    long.tube(50.0, None);
    long.lens(
        &Lens { f: 200.0, p: 0.717_168_030_617_706_4, n: 5.6, length: 90.0, separation: -30.0, register: 80.0 },
        "m",
        0.0,
    );
    let report = look(&long.text, &long.parts.join(","), Focus::Infinity);
    check(&report, &[(Magnification, 0.25), (EffectiveFNumber, 7.552_122_710_760_212)]);
}

const INTERNAL: &str = r#"
[[body]]
id = "body"
frame_mm = [56, 56]
register_mm = 80
mount = "m"
[[lens]]
id = "lens"
mount = "m"
focal_length_mm = 100
max_aperture = 4
pupil_ratio = 1
length_mm = 60
principal_separation_mm = 6
focusing = "internal"
close_focus_mm = 400
max_magnification = 0.5
thread_mm = 52
[[tube]]
id = "tube"
mount = "m"
length_mm = 20
[[reversing_ring]]
id = "ring"
mount = "m"
thread_mm = 52
thickness_mm = 4
"#;

#[test]
fn internal_focusing_at_its_closest() {
    // (400 − 6)/(2 + 0.5 + 2) = 87.56 mm at the closest mark, where the barrel is as long as ever: rim at 140.
    let f = 394.0 / 4.5;
    let report = look(INTERNAL, "body,lens", Focus::Closest);
    check(&report, &[(Magnification, 0.5), (SubjectToFilm, 400.0), (WorkingDistance, 260.0), (Extension, 0.0)]);
    check(&report, &[(EffectiveFNumber, 4.0 * 1.5)]);
    // With a tube behind: 20 mm more in front of a film on which f(1 + m) fell.
    let report = look(INTERNAL, "body,tube,lens", Focus::Closest);
    check(&report, &[(Magnification, 0.5 + 20.0 / f), (Extension, 20.0)]);
    // Reversed the glass hangs from the rim: H at 84 + 60 − (1.5·f + 6 − 80) and v = that.
    let report = look(INTERNAL, "body,tube,ring,lens", Focus::Closest);
    let v = 104.0 + 140.0 - 6.0 - 1.5 * f;
    check(&report, &[(Magnification, v / f - 1.0)]);
}

#[test]
fn internal_focusing_at_a_figure_of_its_scale() {
    for distance in [401.0, 450.0, 700.0, 2_000.0, 50_000.0] {
        let report = look(INTERNAL, "body,lens", Focus::Distance(distance));
        assert_close!(value(&report, SubjectToFilm), distance, relative = 1e-9);
        // The focal length that this implies lies on the straight line over the magnification.
        let m = value(&report, Magnification);
        let f = (distance - 6.0) / (2.0 + m + 1.0 / m);
        assert_close!(f, 100.0 + (394.0 / 4.5 - 100.0) * m / 0.5, relative = 1e-9);
        assert!(report.warnings.iter().any(|w| w.to_string().contains("interpolated evenly")), "{:?}", report.warnings);
    }
    let at_mark = look(INTERNAL, "body,lens", Focus::Distance(400.0));
    check(&at_mark, &[(Magnification, 0.5), (SubjectToFilm, 400.0)]);
    let words = report_of(&read(INTERNAL), &request("body,lens", Focus::Distance(300.0))).unwrap_err().to_string();
    assert!(words.contains("cannot be set to 300 mm on its scale") && words.contains("400 mm"), "{words}");
}

#[test]
fn a_scale_distance_of_a_lens_that_moves_as_a_whole() {
    for distance in [600.0, 1_000.0, 9_000.0] {
        let report = look(LONG, "body,lens", Focus::Distance(distance));
        assert_close!(value(&report, SubjectToFilm), distance, relative = 1e-9);
    }
    // Marked for 0.5x: 120·4.5 = 540 mm.
    let words = report_of(&read(LONG), &request("body,lens", Focus::Distance(500.0))).unwrap_err().to_string();
    assert!(words.contains("cannot be set to 500 mm") && words.contains("540 mm"), "{words}");
}

#[test]
fn a_subject_behind_a_principal_plane_that_lies_in_front_of_the_seat() {
    // Body R 46; A f 40, length 60; B f 24 (built for a register of 66), length 50, reversed on A by a ring of 3 mm, tube 14.
    // By hand, mm in front of the film: seat of A 60, its H' at 40 + 60 − 46 = 54, rim 120; rim of B 123, H of B at
    // 123 + 50 + 66 − 24 = 215, 42 in front of B's seat at 173. A alone sends the film's picture to 1/(1/40 − 1/54) = 154.29 in
    // front of H; B takes what converges toward 54 + 154.29 = 208.29, 6.71 behind its plane, to
    // 1/(1/24 + … ) — that is, s = −6.71 → 1/s' = 1/24 − 1/6.71…: a subject 9.32 behind that plane, 32.68 in front of the seat.
    let text = r#"
[[body]]
id = "b"
frame_mm = [36, 24]
register_mm = 46
mount = "m"
[[lens]]
id = "l1"
mount = "m"
focal_length_mm = 40
max_aperture = 2.8
length_mm = 60
thread_mm = 52
[[lens]]
id = "l2"
mount = "m"
focal_length_mm = 24
max_aperture = 2.8
length_mm = 50
register_mm = 66
thread_mm = 52
[[tube]]
id = "t"
mount = "m"
length_mm = 14
[[coupling_ring]]
id = "cp"
threads_mm = [52, 52]
thickness_mm = 3
"#;
    let report = crate::common::look(text, "b,t,l1,cp,l2", kit::Focus::Infinity);
    let behind_b: f64 = 54.0 + 1.0 / (1.0 / 40.0 - 1.0 / 54.0) - 215.0;
    // Light from the film would come together |behind_b| behind B's plane; backwards through B it comes from s with
    // 1/s = 1/24 − 1/behind_b, behind_b being negative for a picture behind the plane.
    let free = 1.0 / (1.0 / 24.0 - 1.0 / -behind_b) + 215.0 - 173.0;
    assert_close!(crate::common::value(&report, optics::Figure::WorkingDistance), free, relative = 1e-9);
    let whole = kit::reach(&crate::common::read(text), &kit::Demand::default()).unwrap();
    assert!(whole.setups.iter().any(|setup| setup.parts == ["b", "t", "l1", "cp", "l2"]), "reach lists it too");
}
