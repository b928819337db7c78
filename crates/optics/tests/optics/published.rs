//! Examples and tables that others have printed.

use crate::common::{alone, extended, figures, get, thin, thin_lens};
use optics::{Figure, Train};
use testkit::assert_close;

const INCH: f64 = 25.4;

/// Light lost as a factor of time.
fn factor(train: &Train<f64>, f_number: f64) -> f64 {
    get(&figures(train, f_number, 0.05), Figure::ExposureStops).exp2()
}

#[test]
fn bellows_factors_of_the_army_course() {
    // U.S. Army correspondence courses SS0512, p. "44" (12 in lens on 18 in of bellows: 2.25; image 8 in of a 12 in
    // original: printed 2.8), and SS0511, p. "118" (6 in lens on 12 in of bellows: factor 4).
    let (twelve, six) = (12.0 * INCH, 6.0 * INCH);
    let cases = [
        ("18 in of bellows on 12 in", twelve, 18.0 * INCH - twelve, 2.25, 1e-12),
        ("300 mm on 450 mm", 300.0, 150.0, 2.25, 1e-12),
        ("8 in of 12 in", twelve, twelve * 8.0 / 12.0, 2.8, 0.05),
        ("12 in of bellows on 6 in", six, 12.0 * INCH - six, 4.0, 1e-12),
    ];
    for (name, f, extension, printed, tolerance) in cases {
        let train = extended(&thin_lens(f, 16.0, 1.0), extension);
        assert_close!(factor(&train, 16.0), printed, absolute = tolerance, "{name}");
    }
}

#[test]
fn factors_as_stops_in_the_army_course() {
    // U.S. Army correspondence course SS0511, p. "118": factor 4 is 2 stops, 8 is 3, 16 is 4.
    for (printed, stops) in [(4.0f64, 2.0), (8.0, 3.0), (16.0, 4.0)] {
        let m = printed.sqrt() - 1.0;
        let train = extended(&thin_lens(150.0, 8.0, 1.0), 150.0 * m);
        assert_close!(get(&figures(&train, 8.0, 0.05), Figure::ExposureStops), stops, absolute = 1e-12);
    }
}

#[test]
fn product_at_half_size() {
    // Langford, *Basic Photography*, appendix: an 80 mm lens, 10 cm of product 5 cm high on film: factor 2 1/4.
    let train = extended(&thin_lens(80.0, 16.0, 1.0), 40.0);
    let half = figures(&train, 16.0, 0.05);
    assert_close!(get(&half, Figure::Magnification), 50.0 / 100.0, absolute = 1e-14);
    assert_close!(factor(&train, 16.0), 2.25, absolute = 1e-12);
}

#[test]
fn magnification_is_extension_over_focal_length_and_not_film_to_front() {
    // A film manufacturer's picture-taking guide prints m = d/f with 77 mm / 55 mm = 1.4, and tells the reader to
    // measure d from the film to the front of the lens. As an extension the 77 mm do give 1.4; a thin lens whose front
    // really lies 77 mm before the film has 22 mm of extension and gives 0.4.
    let lens = thin_lens(55.0, 8.0, 1.0);
    let by_extension = figures(&extended(&lens, 77.0), 8.0, 0.05);
    assert_close!(get(&by_extension, Figure::Magnification), 1.4, absolute = 1e-12);
    let placed = lens.seated(77.0, 0.0, 0);
    assert_close!(placed.front, 77.0, absolute = 1e-12);
    let by_front = get(&figures(&alone(&placed), 8.0, 0.05), Figure::Magnification);
    assert_close!(by_front, 0.4, absolute = 1e-12);
}

#[test]
fn supplementary_lens_for_a_fixed_focus_camera() {
    // Clerc, *Photography: Theory and Practice*, section 118: for a subject at 1.50 m before a camera fixed at
    // infinity, a supplementary lens of focal length 1.50 m, 0.67 dpt.
    for (dioptres, tolerance) in [(1.0 / 1.5, 1e-9), (0.67, 10.0)] {
        let mut train = extended(&thin_lens(100.0, 11.0, 1.0), 0.0);
        train.elements.push(thin(dioptres / 1000.0, 130.0));
        train.front = 130.0;
        let subject = get(&figures(&train, 11.0, 0.05), Figure::WorkingDistance);
        assert_close!(subject, 1500.0, absolute = tolerance, "{dioptres} dpt");
    }
}

#[test]
fn ratio_to_factor_table_of_an_instruction_sheet() {
    // Instruction sheet of a 55 mm close-up lens, p. 21: ratio, exposure factor to one decimal, stops to 1/3 or 1/2 "by
    // eye" (so within a sixth of a stop).
    let third = 1.0 / 3.0;
    let table = [
        (10.0, 1.2, third),
        (8.0, 1.3, third),
        (6.0, 1.4, 0.5),
        (4.0, 1.6, 2.0 * third),
        (2.0, 2.3, 4.0 * third),
        (1.8, 2.4, 4.0 * third),
        (1.6, 2.6, 4.0 * third),
        (1.4, 2.9, 1.5),
        (1.2, 3.4, 5.0 * third),
        (1.0, 4.0, 2.0),
    ];
    for (over, printed, stops) in table {
        let train = extended(&thin_lens(55.0, 3.5, 1.0), 55.0 / over);
        // Half of the last printed digit; 2.25 lies exactly on that border.
        assert_close!(factor(&train, 3.5), printed, absolute = 0.05 + 1e-9, "1/{over}");
        assert_close!(factor(&train, 3.5).log2(), stops, absolute = 1.0 / 6.0, "1/{over}");
    }
}

#[test]
fn instant_close_up_camera() {
    // Manual of a fixed-lens instant close-up camera, technical data, p. 13 (in German): scale, subject distance, focal
    // length, effective aperture, depth of field. Its three depths follow from one disc of confusion, 0.234, 0.239 and
    // 0.225 mm; their middle must give all three within half of the last printed digit.
    let table = [(1.0, 250.0, 128.0, 47.0, 22.0), (2.0, 120.0, 85.4, 67.0, 8.0), (3.0, 80.0, 64.0, 100.0, 5.0)];
    for (m, distance, f, effective, depth) in table {
        let f_number = effective / (1.0 + m);
        let camera = figures(&extended(&thin_lens(f, f_number, 1.0), m * f), f_number, 0.2325);
        assert_close!(get(&camera, Figure::EffectiveFNumber), effective, relative = 1e-12);
        assert_close!(get(&camera, Figure::WorkingDistance), distance, absolute = 10.0, "{m}:1");
        assert_close!(get(&camera, Figure::DepthOfField), depth, absolute = 0.5, "{m}:1");
    }
}

#[test]
fn close_up_lenses_with_the_camera_at_infinity() {
    // General articles on close-up lenses: +1 at 1000 mm, +2 at 500, +3 at 333, +4 at 250, +5 at 200, counted from the
    // close-up lens; stacked powers add (thin, touching).
    let table: [(&[f64], f64); 6] =
        [(&[1.0], 1000.0), (&[2.0], 500.0), (&[3.0], 333.0), (&[4.0], 250.0), (&[5.0], 200.0), (&[1.0, 3.0], 250.0)];
    for (powers, distance) in table {
        let mut train = extended(&thin_lens(80.0, 8.0, 1.0), 0.0);
        train.elements.extend(powers.iter().map(|power| thin(power / 1000.0, 100.0)));
        train.front = 100.0;
        let subject = get(&figures(&train, 8.0, 0.05), Figure::WorkingDistance);
        assert_close!(subject, distance, absolute = 0.5, "{powers:?}");
    }
}
