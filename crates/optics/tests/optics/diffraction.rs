//! Diffraction by a perfect round pupil.

use optics::{airy_diameter_mm, balanced_f_number, circle_of_confusion_mm, cut_off_cy_per_mm, diffraction_mtf};
use testkit::assert_close;

const GREEN: f64 = 550e-6;

/// The frequency at which the contrast falls to `level`, as a share of the cut-off.
fn crossing(level: f64) -> f64 {
    let (mut above, mut below) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = 0.5 * (above + below);
        let contrast = diffraction_mtf(GREEN, 8.0, middle * cut_off_cy_per_mm(GREEN, 8.0));
        if contrast > level { above = middle } else { below = middle }
    }
    above
}

#[test]
fn contrast_of_a_round_pupil() {
    // Own calculation: the overlap of two shifted discs by quadrature (Hopkins 1955, in focus).
    let table = [
        (0.0, 1.0),
        (0.1, 0.872_888_571_6),
        (0.2, 0.747_060_078_1),
        (0.25, 0.685_037_642_5),
        (0.3, 0.623_837_664_8),
        (0.4, 0.504_631_575_5),
        (0.5, 0.391_002_219_0),
        (0.6, 0.284_756_979_9),
        (0.7, 0.188_120_404_4),
        (0.8, 0.104_088_038_7),
        (0.9, 0.037_386_073_5),
        (1.0, 0.0),
        (1.5, 0.0),
    ];
    for (s, contrast) in table {
        let cut_off = cut_off_cy_per_mm(GREEN, 11.0);
        assert_close!(diffraction_mtf(GREEN, 11.0, s * cut_off), contrast, absolute = 1e-10, "s {s}");
        assert_close!(diffraction_mtf(GREEN, 11.0, -s * cut_off), contrast, absolute = 1e-10, "s −{s}");
    }
}

#[test]
fn levels_are_crossed_where_they_should_be() {
    let table = [
        (0.5, 0.403_972_753_3),
        (0.3, 0.585_137_422_9),
        (0.2, 0.687_048_826_1),
        (0.1, 0.805_383_636_5),
        (0.05, 0.878_339_448_1),
    ];
    for (level, s) in table {
        assert_close!(crossing(level), s, absolute = 1e-9, "{level}");
    }
}

#[test]
fn the_overlap_of_two_discs_by_counting() {
    // Independent of any formula: the share of a unit disc that its twin, moved by 2s, still covers, in thin strips.
    for s in [0.05, 0.35, 0.65, 0.95] {
        let strips = 200_000;
        let overlap: f64 = (0..strips)
            .map(|i| {
                let x = s + (i as f64 + 0.5) * (1.0 - s) / f64::from(strips);
                (1.0 - x * x).sqrt() * (1.0 - s) / f64::from(strips)
            })
            .sum();
        let contrast = diffraction_mtf(GREEN, 8.0, s * cut_off_cy_per_mm(GREEN, 8.0));
        assert_close!(contrast, 4.0 * overlap / std::f64::consts::PI, absolute = 1e-7, "s {s}");
    }
}

#[test]
fn at_film_frequencies() {
    // Own calculation of the same closed form: wavelength, f-number, cycles per mm, contrast, cut-off.
    let e_line = 546.074e-6;
    let table = [
        (GREEN, 8.0, 10.0, 0.943_995_54, 227.272_7),
        (GREEN, 8.0, 50.0, 0.722_163_57, 227.272_7),
        (GREEN, 22.0, 20.0, 0.694_910_51, 82.644_6),
        (GREEN, 22.0, 80.0, 0.006_838_54, 82.644_6),
        (GREEN, 32.0, 50.0, 0.048_992_53, 56.818_2),
        (GREEN, 32.0, 80.0, 0.0, 56.818_2),
        (e_line, 11.0, 30.0, 0.771_804_54, 166.477_603_60),
    ];
    for (wavelength, n, frequency, contrast, cut_off) in table {
        assert_close!(diffraction_mtf(wavelength, n, frequency), contrast, absolute = 5e-9, "{n} {frequency}");
        assert_close!(cut_off_cy_per_mm(wavelength, n), cut_off, absolute = 5e-5);
    }
}

#[test]
fn airy_disc_and_half_contrast_by_f_number() {
    // Own calculation at 550 nm: Airy diameter 2.44·λ·N in µm, and the frequency of half contrast, 0.40397/(λN).
    let table = [
        (5.6, 7.5152, 131.160),
        (8.0, 10.736, 91.812),
        (11.0, 14.762, 66.772),
        (16.0, 21.472, 45.906),
        (22.0, 29.524, 33.386),
        (32.0, 42.944, 22.953),
        (45.0, 60.39, 16.322),
        (64.0, 85.888, 11.476),
    ];
    for (n, airy_um, half) in table {
        assert_close!(airy_diameter_mm(n) * 1000.0, airy_um, absolute = 1e-9);
        // Half a unit in the last digit of the frequency moves the contrast by 2.1e-5 where it falls fastest, at f/64.
        assert_close!(diffraction_mtf(GREEN, n, half), 0.5, absolute = 2.2e-5, "f/{n}");
    }
}

#[test]
fn disc_of_confusion_of_common_frames() {
    // Common practice, no source: the frame's diagonal over 1500.
    let table = [
        ([36.0, 24.0], 0.0288),
        ([41.5, 56.0], 0.0465),
        ([56.0, 56.0], 0.0528),
        ([56.0, 69.5], 0.0595),
        ([56.0, 84.0], 0.0673),
        ([96.0, 120.0], 0.1025),
    ];
    for (frame, c) in table {
        assert_close!(circle_of_confusion_mm(frame), c, absolute = 5.1e-5, "{frame:?}");
    }
}

/// Depth of 5 mm at half life size, green light: own calculation from N = m sqrt(T / (4.88 lambda)); the published rule
/// of 375 times the image-side focus spread (Hansma, Photo Techniques, March/April 1996, from memory), N = sqrt(375 V),
/// comes from 2.44 lambda = 1/750 mm, 0.66 % less than here, and so agrees within half of that.
#[test]
fn depth_and_diffraction_balance_where_the_formula_says() {
    let (n, disc_mm) = balanced_f_number(0.5, 5.0);
    assert_close!(n, 21.580611710245275, relative = 1e-12);
    assert_close!(disc_mm, 0.04095729483254479, relative = 1e-12);
    let spread = 0.5f64.powi(2) * 5.0;
    assert_close!(n, (375.0 * spread).sqrt(), relative = 4e-3);
    // To either side the disc is larger: the root of the squares' sum, worked out here.
    let disc = |n: f64| airy_diameter_mm(n).hypot(spread / (2.0 * n));
    assert_close!(disc(n), disc_mm, relative = 1e-12);
    assert!(disc(0.9 * n) > disc_mm && disc(1.1 * n) > disc_mm);
}
