//! Worked set-ups: own calculations in double precision from the closed forms that are named beside them, and that the
//! crate does not contain.

use crate::common::{Glass, Surface, alone, extended, figures, get, reversed_at, thin, thin_lens};
use optics::{BlackBox, Figure, Stop, Train, magnification_at_distance};
use testkit::assert_close;

#[test]
fn extension_on_a_symmetrical_lens() {
    // Own calculation: m = e/f, object to H f(1 + 1/m), N(1 + m), object to film f(2 + m + 1/m) (Jacobson,
    // *Photographic Lenses FAQ*, 1995, Q4-Q5).
    let train = extended(&thin_lens(80.0, 8.0, 1.0), 50.0);
    let got = figures(&train, 8.0, 0.05);
    let expected = [
        (Figure::Magnification, 0.625),
        (Figure::WorkingDistance, 208.0),
        (Figure::EffectiveFNumber, 13.0),
        (Figure::ExposureStops, 1.400_879_436_282_184_4),
        (Figure::SubjectToFilm, 338.0),
        (Figure::FieldWidth, 56.0 / 0.625),
    ];
    for (figure, value) in expected {
        assert_close!(get(&got, figure), value, relative = 1e-13, "{}", figure.label());
    }
}

#[test]
fn pupils_decide_the_light() {
    // Own calculation from N(1 + m/P) and, reversed, N(1/P + m) (both in Ray, *Applied Photographic Optics*, from
    // memory): f, m, P, N, normal, reversed.
    let table = [
        (120.0, 0.5, 0.85, 11.0, 17.470_588_235_294_12, 11.0 * (1.0 / 0.85 + 0.5)),
        (100.0, 2.0, 1.5, 8.0, 18.666_666_666_666_664, 21.333_333_333_333_332),
    ];
    for (f, m, pupil_ratio, n, normal, reversed) in table {
        let lens = thin_lens(f, n, pupil_ratio);
        let got = figures(&extended(&lens, m * f), n, 0.05);
        assert_close!(get(&got, Figure::EffectiveFNumber), normal, relative = 1e-13);
        let turned = figures(&reversed_at(&lens, m), n, 0.05);
        assert_close!(get(&turned, Figure::Magnification), m, relative = 1e-13);
        assert_close!(get(&turned, Figure::EffectiveFNumber), reversed, relative = 1e-13);
    }
    // The first lens: 16.5 would be the answer with the pupils left out, 1.3348493218262585 stops with them.
    let got = figures(&extended(&thin_lens(120.0, 11.0, 0.85), 60.0), 11.0, 0.05);
    assert_close!(get(&got, Figure::ExposureStops), 1.334_849_321_826_258_5, relative = 1e-13);
}

#[test]
fn factor_tables_by_pupil_ratio() {
    // Own calculation of (1 + m/P)² and 2·log2(1 + m/P), four decimals: P, then m, factor, stops.
    type Row = (f64, f64, f64);
    let table: [(f64, &[Row]); 3] = [
        (
            1.0,
            &[
                (0.1, 1.21, 0.2750),
                (0.125, 1.2656, 0.3399),
                (0.25, 1.5625, 0.6439),
                (0.5, 2.25, 1.1699),
                (0.75, 3.0625, 1.6147),
                (1.0, 4.0, 2.0),
                (1.5, 6.25, 2.6439),
                (2.0, 9.0, 3.1699),
                (3.0, 16.0, 4.0),
                (4.0, 25.0, 4.6439),
                (5.0, 36.0, 5.1699),
                (10.0, 121.0, 6.9189),
            ],
        ),
        (
            0.7,
            &[
                (0.1, 1.3061, 0.3853),
                (0.25, 1.8418, 0.8811),
                (0.5, 2.9388, 1.5552),
                (1.0, 5.8980, 2.5602),
                (2.0, 14.8776, 3.8951),
                (5.0, 66.3061, 6.0511),
            ],
        ),
        (
            1.4,
            &[
                (0.1, 1.1480, 0.1991),
                (0.25, 1.3890, 0.4741),
                (0.5, 1.8418, 0.8811),
                (1.0, 2.9388, 1.5552),
                (2.0, 5.8980, 2.5602),
                (5.0, 20.8980, 4.3853),
            ],
        ),
    ];
    for (pupil_ratio, rows) in table {
        for &(m, factor, stops) in rows {
            let train = extended(&thin_lens(90.0, 5.6, pupil_ratio), m * 90.0);
            let got = get(&figures(&train, 5.6, 0.05), Figure::ExposureStops);
            assert_close!(got, stops, absolute = 5.1e-5, "P {pupil_ratio}, m {m}");
            assert_close!(got.exp2(), factor, absolute = 5.1e-5, "P {pupil_ratio}, m {m}");
        }
    }
}

/// An 80 mm lens with a +4 close-up lens 15 mm in front of H, extended.
fn with_close_up(extension: f64) -> Train<f64> {
    let mut train = extended(&thin_lens(80.0, 8.0, 1.0), extension);
    train.front = 80.0 + extension + 15.0;
    train.elements.push(thin(0.004, train.front));
    train
}

#[test]
fn close_up_lens_on_a_focused_lens() {
    // Own calculation: main lens focused on 900 from H, then u = 1/(D + 1/(a − s)) from the close-up lens and
    // m = m_p(1 + D(a − s)) (two thin systems combined; Kingslake, Smith, from memory).
    let extension = 80.0 * 80.0 / (900.0 - 80.0);
    let got = figures(&with_close_up(extension), 8.0, 0.05);
    assert_close!(80.0 + extension, 87.804_878_048_780_5, relative = 1e-13);
    assert_close!(get(&got, Figure::WorkingDistance), 194.933_920_704_845_83, relative = 1e-12);
    assert_close!(get(&got, Figure::Magnification), 0.442_926_829_268_292_7, relative = 1e-12);
    // The cone is the main lens's own at its own extension: N(1 + m_p), m_p = 0.0975609756097561.
    assert_close!(get(&got, Figure::EffectiveFNumber), 8.0 * 1.097_560_975_609_756_1, relative = 1e-12);
}

#[test]
fn close_up_lens_on_a_lens_at_infinity() {
    // Own calculation: m = f·D whatever the gap, object at 1/D, and the pair's focal length 1/(1/f + D − sD/f).
    let train = with_close_up(0.0);
    let got = figures(&train, 8.0, 0.05);
    assert_close!(get(&got, Figure::Magnification), 0.32, relative = 1e-13);
    assert_close!(get(&got, Figure::WorkingDistance), 250.0, relative = 1e-13);
    assert_close!(-1.0 / train.matrix().unwrap().c, 63.492_063_492_063_494, relative = 1e-13);
    assert_close!(get(&got, Figure::ExposureStops), 0.0, absolute = 1e-13);
}

/// A 1.4x converter 42 mm in front of the film (a thin lens of −105 mm), a 120 mm lens before it with 32 mm of tube
/// between, `behind` mm of tube behind the converter.
fn converted(behind: f64, refocus: f64) -> Train<f64> {
    // The converter takes an image 30 mm behind it to 42 mm: the lens's own infinity film plane lies 12 mm before the film.
    let lens = thin_lens(120.0, 5.6, 1.0).seated(120.0 + 12.0 + behind + 32.0 + refocus, 0.0, 1);
    Train { elements: vec![thin(-1.0 / 105.0, 42.0 + behind), lens.element], stops: vec![lens.stop], front: lens.front }
}

#[test]
fn converter_and_tube_need_no_formula_of_their_own() {
    // Own calculation: m = k·e/f and kN(1 + e/f) for a converter k behind a tube e (thin negative lens; Ray, from
    // memory).
    let got = figures(&converted(0.0, 0.0), 5.6, 0.05);
    assert_close!(get(&got, Figure::Magnification), 0.373_333_333_333_333_35, relative = 1e-12);
    assert_close!(get(&got, Figure::EffectiveFNumber), 9.930_666_666_666_665, relative = 1e-12);
    // 12 mm more behind the converter: k' = 1 + 54/105 = 1.5142857142857142, and its object lies 35.660377358490564 mm
    // behind it instead of 30, so that the lens comes nearer by the difference for the same extension.
    let refocus = -(35.660_377_358_490_564 - 30.0);
    let got = figures(&converted(12.0, refocus), 5.6, 0.05);
    assert_close!(get(&got, Figure::Magnification), 1.514_285_714_285_714_2 * 32.0 / 120.0, relative = 1e-12);
}

#[test]
fn depth_by_the_pupils() {
    // Own calculation: Up = f(1/m + 1/P), D = f/N, C = c/m, near Up·C/(D + C), far Up·C/(D − C).
    let table = [
        (80.0, 16.0, 1.0, 0.8, 1.782_178_217_821_782_2, 1.818_181_818_181_818_1, 3.600_360_036_003_600_3),
        (120.0, 22.0, 0.25, 1.0, 21.221_864_951_768_488, 22.837_370_242_214_536, 44.059_235_193_983_03),
    ];
    for (f, n, m, pupil_ratio, near, far, total) in table {
        let got = figures(&extended(&thin_lens(f, n, pupil_ratio), m * f), n, 0.05);
        assert_close!(get(&got, Figure::DepthNear), near, relative = 1e-12);
        assert_close!(get(&got, Figure::DepthFar), far, relative = 1e-12);
        assert_close!(get(&got, Figure::DepthOfField), total, relative = 1e-12);
    }
    // Close up, twice c·Ne/m² comes near: 3.6 for the first.
    let limit = 2.0 * 0.05 * 16.0 * (1.0 + 1.0 / 0.8);
    assert_close!(limit, 3.6, relative = 1e-12);
    assert_close!(3.600_360_036_003_600_3, limit, relative = 2e-4);
}

#[test]
fn depth_reaches_infinity_at_the_hyperfocal_magnification() {
    // Own calculation: far is Up·C/(D − C), so it is infinite from D = C on, m = c·N/f.
    let lens = thin_lens(80.0, 16.0, 1.0);
    let hyperfocal = 0.05 * 16.0 / 80.0;
    let depth = |m: f64| figures(&extended(&lens, m * 80.0), 16.0, 0.05).get(Figure::DepthFar);
    assert!(depth(hyperfocal * 1.001).is_some_and(f64::is_finite));
    assert_eq!(depth(hyperfocal * 0.999), None);
    let beyond = figures(&extended(&lens, hyperfocal * 0.999 * 80.0), 16.0, 0.05);
    assert_eq!(beyond.get(Figure::DepthOfField), None);
    assert!(beyond.get(Figure::DepthNear).is_some());
}

#[test]
fn two_groups_with_a_stop_between_them() {
    // Own calculation: thin 100 mm, 10 mm to the stop, 20 mm on to thin 60 mm; P = 1.35 by imaging the stop both ways.
    let air = |focal: f64, thickness| Surface { power: 1.0 / focal, thickness, index: 1.0 };
    let stop = Surface { power: 0.0, thickness: 20.0, index: 1.0 };
    let groups = Glass { surfaces: vec![air(100.0, 10.0), stop, air(60.0, 0.0)], stop: 1 };
    let points = groups.cardinal();
    assert_close!(points.focal_length, 46.153_846_153_846_15, relative = 1e-13);
    assert_close!(points.pupil_ratio, 1.35, relative = 1e-13);
    // As two elements with the real stop between them: no black box at all.
    let (m, n) = (1.2, 8.0);
    let rear = points.back_focus + m * points.focal_length;
    let opening = points.focal_length / n / points.entrance_size;
    let between = Stop { element: 1, position: rear + 20.0, diameter: opening };
    let elements = vec![thin(1.0 / 60.0, rear), thin(0.01, rear + 30.0)];
    let train = Train { elements, stops: vec![between], front: rear + 30.0 };
    let got = figures(&train, n, 0.04);
    assert_close!(get(&got, Figure::Magnification), m, relative = 1e-12);
    assert_close!(get(&got, Figure::EffectiveFNumber), 15.111_111_111_111_11, relative = 1e-12);
    assert_close!(get(&got, Figure::DepthNear), 0.417_341_778_366_966_1, relative = 1e-12);
    assert_close!(get(&got, Figure::DepthFar), 0.422_192_420_404_311_26, relative = 1e-12);
}

#[test]
fn two_separated_lenses() {
    // Own calculation: thin 100 mm and −80 mm, 60 mm apart: focal length 200, back focus 80 (telephoto ratio 0.7).
    let elements = vec![thin(-1.0 / 80.0, 80.0), thin(0.01, 140.0)];
    let matrix = Train { elements, stops: vec![], front: 140.0 }.matrix().unwrap();
    assert_close!(-1.0 / matrix.c, 200.0, relative = 1e-13);
    // Parallel light comes together on a film 80 mm behind: height from height is nothing.
    assert_close!(matrix.a, 0.0, absolute = 1e-14);
}

#[test]
fn magnification_from_the_distance_scale() {
    // Own calculation: T = f(2 + m + 1/m) + t solved for m at T 450, f 100, t 4; the other root, 1.946170370791755,
    // belongs to the lens nearer the subject.
    let m = magnification_at_distance(450.0, 100.0, 4.0).unwrap();
    assert_close!(m, 0.513_829_629_208_244_9, relative = 1e-12);
    assert_close!(1.0 / m, 1.946_170_370_791_755, relative = 1e-12);
    // Nothing is nearer than life size, 4f + t.
    assert_close!(magnification_at_distance(404.0, 100.0, 4.0).unwrap(), 1.0, relative = 1e-7);
    let error = magnification_at_distance(403.9, 100.0, 4.0).unwrap_err();
    assert_close!(error.least_mm, 404.0, relative = 1e-13);
    assert!(magnification_at_distance(f64::NAN, 100.0, 4.0).is_err());
}

#[test]
fn coupled_lenses() {
    // Ray, *Applied Photographic Optics* (from memory): rear lens at infinity, a second reversed in front of it at
    // infinity: m = f1/f2 whatever the gap; on the axis max(N1, m·N2) limits.
    let (first, second) = (thin_lens(135.0, 4.0, 1.0), thin_lens(50.0, 1.8, 1.0));
    for gap in [0.0, 5.0, 20.0] {
        let a = first.seated(135.0, 0.0, 0);
        let b = second.reversed(a.front + gap, 0.0, 1);
        let train = Train { elements: vec![a.element, b.element], stops: vec![a.stop, b.stop], front: b.front };
        let image = train.image().unwrap();
        assert_close!(image.magnification, 135.0 / 50.0, relative = 1e-12);
        assert_close!(0.5 / image.film_slope, f64::max(4.0, 2.7 * 1.8), relative = 1e-12);
        assert_eq!(image.limiting_stop, 1, "the second lens is the narrower here");
    }
}

#[test]
fn nothing_real_can_be_sharp_behind_the_glass() {
    // Own reasoning: a lens nearer to the film than its focal length makes no real picture of a real subject.
    let lens = BlackBox { register: 80.0, ..thin_lens(80.0, 4.0, 1.0) };
    let error = alone(&lens.seated(70.0, 0.0, 0)).image().unwrap_err();
    assert!(error.to_string().contains("behind"), "{error}");
    assert!(Train::<f64> { elements: vec![], stops: vec![], front: 0.0 }.image().is_err());
}
