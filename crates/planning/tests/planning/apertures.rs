//! Detail and depth together.

use crate::common::beetle;
use optics::diffraction_mtf;
use planning::{
    Balance, Brief, Feasible, FocusSteps, Negative, depth_mm, effective_f_number_for_depth, largest_effective_f_number,
};
use proptest::prelude::*;
use testkit::assert_close;

const GREEN_MM: f64 = 0.55e-3;

fn deep(depth: f64) -> Negative {
    Brief { subject_depth_mm: Some(depth), ..beetle() }.need().unwrap().on_film()
}

#[test]
fn diffraction_limits_of_a_perfect_lens() {
    // Own calculation from the closed form, outside this program: line pairs per mm where a perfect lens leaves half the
    // contrast at 0.55 µm, and Rayleigh's 1/(1.22·λ·N), where it leaves 0.0894 (the closed form at the share 1/1.22).
    let table = [
        (5.6, 131.160, 266.127),
        (8.0, 91.812, 186.289),
        (16.0, 45.906, 93.145),
        (22.0, 33.386, 67.741),
        (32.0, 22.953, 46.572),
    ];
    for (f_number, half, rayleigh) in table {
        // To the last digit of the table.
        assert_close!(largest_effective_f_number(GREEN_MM, half, 0.5), f_number, relative = 3e-5);
        assert_close!(largest_effective_f_number(GREEN_MM, rayleigh, 0.089_395_864), f_number, relative = 3e-5);
    }
}

#[test]
fn depth_in_the_data_of_a_close_up_camera() {
    // The manual of an instant camera with fixed close-up lens, technical data, p. 13: depth 2.2 cm at 1:1 and f/47, 0.8 cm
    // at 2:1 and f/67, 0.5 cm at 3:1 and f/100 (effective f-numbers). It names no criterion; one and the same, 0.2335 mm,
    // must give all three within half of their last digit.
    for (magnification, f_number, printed_mm) in [(1.0, 47.0, 22.0), (2.0, 67.0, 8.0), (3.0, 100.0, 5.0)] {
        assert_close!(depth_mm(magnification, f_number, 0.2335), printed_mm, absolute = 0.5);
    }
    // The closed form backwards, to the figures of an own calculation: c = depth·m²/(2·N).
    for (magnification, f_number, printed_mm, circle) in
        [(1.0, 47.0, 22.0, 0.234), (2.0, 67.0, 8.0, 0.239), (3.0, 100.0, 5.0, 0.225)]
    {
        assert_close!(
            effective_f_number_for_depth(magnification, printed_mm, circle),
            f_number,
            relative = 0.0005 / circle
        );
    }
}

#[test]
fn depth_agrees_with_the_pupils() {
    // The exact depth of a thin lens of 80 mm with its stop in it, by `optics`: it is 2·c·N/m² over 1 − (c'/E)², with c' the
    // circle on the subject and E the stop (both in the paraxial model), so that at f/32 and half life size they differ by 0.16 %.
    let (focal, stop, circle) = (80.0, 2.5, 0.05);
    let bellows = |magnification: f64| {
        let position = focal * (1.0 + magnification);
        let element = optics::Element { power: 1.0 / focal, front: position, back: position };
        let stop = optics::Stop { element: 0, position, diameter: stop };
        let train = optics::Train { elements: vec![element], stops: vec![stop], front: position };
        train.figures([56.0, 56.0], focal / 2.5, circle, 0.0).unwrap()
    };
    for magnification in [0.5, 1.0, 3.0] {
        let figures = bellows(magnification);
        let get = |figure| figures.get(figure).unwrap();
        let simple = depth_mm(magnification, get(optics::Figure::EffectiveFNumber), circle);
        let exact = simple / (1.0 - (circle / magnification / stop).powi(2));
        assert_close!(get(optics::Figure::DepthOfField), exact, relative = 1e-9);
        assert_close!(simple, exact, relative = 0.002);
    }
}

#[test]
fn balance_of_five_millimetres_at_half_life_size() {
    // Own calculation: N = 0.5·√(5/(4.88·0.00055)), blur √2·2.44·λ·N.
    let brief = Brief { depth_wanted_mm: Some(5.0), ..Brief::new(56.0, 0.5, [56.0, 56.0], 300.0) };
    let Balance { effective_f_number, blur_mm } = brief.need().unwrap().on_film().balance().unwrap();
    assert_close!(effective_f_number, 21.580_611_710_245_275, relative = 1e-12);
    assert_close!(blur_mm, 0.040_957_294_832_544_79, relative = 1e-12);
    // N = m·√(depth/(4.88·λ)) at four times the wavelength would be half of it; twice is what the limits allow.
    let red = Brief { wavelength_mm: 2.0 * GREEN_MM, ..brief }.need().unwrap().on_film().balance().unwrap();
    assert_close!(red.effective_f_number * 2f64.sqrt(), effective_f_number, relative = 1e-12);
    assert_close!(
        red.blur_mm,
        std::f64::consts::SQRT_2 * 2.44 * 2.0 * GREEN_MM * red.effective_f_number,
        relative = 1e-12
    );
}

#[test]
fn the_usual_contrast_is_that_of_the_circle_of_confusion() {
    // 2·J₁(π)/π = 0.18119 (the series of J₁ summed outside this program): the contrast that an even disc leaves at one line
    // pair per diameter. The default asks the same of diffraction to a fiftieth of full contrast.
    assert_close!(beetle().contrast, 0.181_191_754_987_415_3, absolute = 0.02);
}

#[test]
fn a_deep_beetle_takes_three_exposures() {
    // Own calculation outside this program, by the closed forms: m 0.98, c 56/1500 mm, 26.79 lp/mm, contrast 0.2.
    let negative = deep(8.0);
    assert_close!(negative.diffraction_limit(), 46.636_041_531_420_93, relative = 1e-12);
    assert_close!(negative.depth_limit().unwrap(), 102.9, relative = 1e-12);
    let Feasible::Steps(steps) = negative.feasible(None) else { panic!("{}", negative.feasible(None)) };
    let FocusSteps { effective_f_number, depth_each_mm, count, step_mm } = steps;
    assert_close!(effective_f_number, 46.636_041_531_420_93, relative = 1e-12);
    assert_close!(depth_each_mm, 3.625_736_950_936_516, relative = 1e-12);
    assert_eq!(count, 3);
    assert_close!(step_mm, 8.0 / 3.0, relative = 1e-12);
    assert_eq!(
        negative.feasible(None).to_string(),
        "no f-number holds depth and detail together: take 3 exposures at effective f/46.6 and move subject or camera 2.67 mm between them"
    );
}

#[test]
fn a_shallow_one_takes_one() {
    // 12.8625 = 0.98²·1/(2·56/1500); the balance is 0.98·√(1/(4.88·0.00055)).
    let negative = deep(1.0);
    let Feasible::OneExposure { from, to, best } = negative.feasible(None) else { panic!() };
    assert_close!(from.unwrap(), 12.8625, relative = 1e-12);
    assert_close!(to, 46.636_041_531_420_93, relative = 1e-12);
    assert_close!(best.unwrap(), 18.916_240_193_813_48, relative = 1e-12);
    assert_eq!(
        negative.feasible(None).to_string(),
        "one exposure serves from effective f/12.9 to f/46.6, best at f/18.9"
    );
    // A lens that cannot go there narrows the range, and the best with it.
    let Feasible::OneExposure { from, to, best } = negative.feasible(Some([22.0, 32.0])) else { panic!() };
    assert_eq!((from, to, best), (Some(22.0), 32.0, Some(22.0)));
    // One that does not close far enough must step, at its last f-number.
    let Feasible::Steps(steps) = negative.feasible(Some([4.0, 8.0])) else { panic!() };
    assert_eq!((steps.effective_f_number, steps.count), (8.0, 3));
    // One that is too dim wide open holds no detail, whatever the depth.
    let dim = negative.feasible(Some([60.0, 90.0]));
    assert!(matches!(dim, Feasible::TooDim { widest: 60.0, .. }), "{dim}");
}

#[test]
fn a_flat_subject_needs_no_depth() {
    let negative = beetle().need().unwrap().on_film();
    assert_eq!((negative.depth_limit(), negative.balance()), (None, None));
    let Feasible::OneExposure { from, to, best } = negative.feasible(None) else { panic!() };
    assert_eq!((from, best), (None, None));
    assert_eq!(to, negative.diffraction_limit());
    assert_eq!(negative.feasible(None).to_string(), "one exposure serves up to effective f/46.6");
    assert_eq!(negative.feasible(Some([8.0, 32.0])), Feasible::OneExposure { from: Some(8.0), to: 32.0, best: None });
    // Diffraction goes as λ·N: red light of twice the wavelength halves the f-number.
    let red = Brief { wavelength_mm: 2.0 * GREEN_MM, ..beetle() }.need().unwrap().on_film();
    assert_close!(red.diffraction_limit(), 0.5 * to, relative = 1e-12);
}

fn jobs() -> impl Strategy<Value = Brief> {
    let sizes = (1.0..200.0f64, 0.05..100.0f64, 0.1..1.0f64, 100.0..1500.0f64);
    (sizes, 0.05..0.9f64, 0.0..0.9f64).prop_map(|((width, depth, fill, print_mm), contrast, overlap)| Brief {
        subject_depth_mm: Some(depth),
        contrast,
        overlap,
        ..Brief::new(width, fill, [56.0, 69.5], print_mm)
    })
}

proptest! {
    /// The limits really are limits: the wanted contrast and depth are there, and just beyond they are not.
    #[test]
    fn limits_hold_what_they_promise(brief in jobs()) {
        let negative = brief.need().unwrap().on_film();
        let contrast = |f_number: f64| diffraction_mtf(GREEN_MM, f_number, negative.lp_mm);
        let limit = negative.diffraction_limit();
        assert_close!(contrast(limit), brief.contrast, absolute = 1e-9);
        prop_assert!(contrast(1.001 * limit) < brief.contrast);
        assert_close!(negative.depth_at_mm(negative.depth_limit().unwrap()), brief.subject_depth_mm.unwrap(), relative = 1e-12);
    }

    /// A range is a range, or the steps cover the depth and fewer would not.
    #[test]
    fn one_exposure_or_enough(brief in jobs()) {
        let depth = brief.subject_depth_mm.unwrap();
        let negative = brief.need().unwrap().on_film();
        match negative.feasible(None) {
            Feasible::OneExposure { from, to, best } => {
                let (from, best) = (from.unwrap(), best.unwrap());
                prop_assert!(from <= best && best <= to);
                prop_assert!(negative.depth_limit().unwrap() <= negative.diffraction_limit() * (1.0 + 1e-6));
            }
            Feasible::Steps(steps) => {
                prop_assert!(negative.depth_limit().unwrap() > negative.diffraction_limit());
                prop_assert!(steps.depth_each_mm < depth);
                let count = f64::from(steps.count);
                let widest = steps.depth_each_mm * (1.0 - brief.overlap);
                assert_close!(count * steps.step_mm, depth, relative = 1e-12);
                prop_assert!(steps.step_mm <= widest * (1.0 + 1e-6), "each repeats its overlap");
                prop_assert!((count - 1.0) * widest < depth, "one fewer would not");
                prop_assert!((count - 1.0) * steps.step_mm + steps.depth_each_mm >= depth, "the ends are held");
            }
            dim => prop_assert!(false, "{dim}"),
        }
    }

    /// No f-number blurs the ends of the depth less than the balanced one.
    #[test]
    fn balance_is_the_least_blur(brief in jobs(), factor in 0.2..5.0f64) {
        let negative = brief.need().unwrap().on_film();
        let balance = negative.balance().unwrap();
        let depth = brief.subject_depth_mm.unwrap();
        let blur = |f_number: f64| {
            (2.44 * GREEN_MM * f_number).hypot(negative.magnification.powi(2) * depth / (2.0 * f_number))
        };
        assert_close!(blur(balance.effective_f_number), balance.blur_mm, relative = 1e-9);
        prop_assert!(blur(factor * balance.effective_f_number) >= balance.blur_mm * (1.0 - 1e-12));
    }
}
