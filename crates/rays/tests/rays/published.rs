//! Published figures: glasses, tables, exact rays.

use rays::{CATALOGUE, FORMS, Medium, Openings, Ray, Rays, Row, Sequence, Surface, Wavelength, form};
use testkit::assert_close;

/// (name, n at g F e d C, V_d, P_gF): the Schott catalogue of 2017-01-20 as carried by refractiveindex.info (CC0).
#[rustfmt::skip]
const PRINTED: [(&str, [f64; 5], f64, f64); 12] = [
    ("N-BK7", [1.5266846, 1.5223763, 1.5187220, 1.5168000, 1.5143223], 64.17, 0.53493),
    ("F2", [1.6420179, 1.6320815, 1.6240804, 1.6200401, 1.6150317], 36.37, 0.58279),
    ("F5", [1.6238071, 1.6146123, 1.6071822, 1.6034203, 1.5987453], 38.03, 0.57949),
    ("SF5", [1.6998566, 1.6874953, 1.6776391, 1.6726975, 1.6666105], 32.21, 0.59188),
    ("N-SF5", [1.6999770, 1.6874962, 1.6776345, 1.6727070, 1.6666379], 32.25, 0.59836),
    ("SF10", [1.7619777, 1.7464809, 1.7343015, 1.7282502, 1.7208475], 28.41, 0.60455),
    ("SF1", [1.7491637, 1.7346202, 1.7231049, 1.7173598, 1.7103135], 29.51, 0.59833),
    ("LF5", [1.5996430, 1.5914625, 1.5848176, 1.5814404, 1.5772294], 40.85, 0.57475),
    ("N-BAF10", [1.6880064, 1.6800004, 1.6734110, 1.6700298, 1.6657783], 47.11, 0.56293),
    ("N-SK16", [1.6331224, 1.6275563, 1.6228630, 1.6204100, 1.6172717], 60.32, 0.54120),
    ("N-PK51", [1.5370380, 1.5333292, 1.5301933, 1.5285543, 1.5264627], 76.98, 0.54013),
    ("N-LAK21", [1.6536646, 1.6478987, 1.6430365, 1.6404948, 1.6372419], 60.10, 0.54106),
];

const LINES: [Wavelength; 5] = [Wavelength::G, Wavelength::F, Wavelength::E, Wavelength::D, Wavelength::C];

#[test]
fn glasses_have_the_catalogues_indices_and_abbe_numbers() {
    for (glass, (name, indices, abbe, partial)) in CATALOGUE.iter().zip(PRINTED) {
        assert_eq!(glass.name, name);
        let index = LINES.map(|line| glass.constants.index(line));
        for (got, printed) in index.iter().zip(indices) {
            assert_close!(*got, printed, absolute = 6e-8, "{name}");
        }
        assert_close!(glass.abbe(), abbe, absolute = 0.005, "{name}");
        assert_close!((index[0] - index[1]) / (index[1] - index[4]), partial, absolute = 6e-6, "{name}");
    }
}

/// What one index and one Abbe number tell of the catalogue's own glasses: within 4 in 10,000 even in the blue, where glass off
/// the normal line goes its own way; within 1 in 10,000 from F to C.
#[test]
fn the_normal_line_gives_real_glasses_their_indices() {
    for glass in &CATALOGUE {
        let guess = Medium::patent(glass.constants.index(Wavelength::D), glass.abbe());
        let off = LINES.map(|line| guess.index(line) - glass.constants.index(line));
        let allowed = [4e-4, 1e-4, 3e-5, 1e-15, 1e-4];
        for (off, allowed) in off.iter().zip(allowed) {
            assert_close!(*off, 0.0, absolute = allowed, "{}: {off:?}", glass.name);
        }
        let [f, c] = [Wavelength::F, Wavelength::C].map(|line| guess.index(line));
        assert_close!((guess.index(Wavelength::D) - 1.0) / (f - c), glass.abbe(), relative = 1e-12);
    }
}

/// Where a meridional ray crosses the axis, from the last vertex, and the sine of its angle.
fn crossing(lens: &Sequence, at: [f64; 3], toward: [f64; 3]) -> (f64, f64) {
    let mut rays = Rays::new([Ray { at, toward, path_mm: 0.0 }]);
    lens.trace(&mut rays, Openings::Measure);
    let ray = rays.get(0).unwrap();
    (ray.at[2] - ray.at[1] / ray.toward[1] * ray.toward[2], -ray.toward[1])
}

/// An axis-parallel ray at height y.
fn parallel(lens: &Sequence, y: f64) -> (f64, f64) {
    crossing(lens, [0.0, y, -10.0], [0.0, 0.0, 1.0])
}

fn lens(key: &str) -> Sequence {
    form(key).unwrap().prescription().at(Wavelength::D)
}

/// (form, focal length, back focus, pupil ratio where it was traced): an independent trace of 2 x 2 matrices.
#[test]
fn focal_lengths_and_back_foci_of_every_form() {
    for (key, focal, back, ratio) in [
        ("triplet-derived-1903", 0.992517, 0.907103, Some(0.97608)),
        ("double-gauss-1930", 99.913490336, 65.328692923, None),
        ("double-gauss-1954", 50.007483064, 35.722278120, Some(1.069976)),
        ("double-gauss-fast", 50.189149, 27.879201, Some(2.36124)),
        ("cemented-front-four", 100.709657, 80.557295, Some(1.08252)),
        ("projection-petzval", 43.225470, 24.777233, None),
        ("telephoto", 249.566611081, 105.070394250, Some(0.71717)),
        ("fisheye", 9.991418, 23.160539, Some(2.79284)),
        ("field-flattened", 23.485983, 0.709547, None),
        ("cemented-doublet", 12.000015, 11.285852, None),
        ("symmetrical", 85.371562853, 66.672499770, Some(1.0)),
    ] {
        let lens = lens(key);
        let cardinal = lens.cardinal().unwrap();
        let digits = if focal > 5.0 { 1e-6 } else { 5.1e-7 };
        assert_close!(cardinal.focal_length_mm, focal, absolute = digits, "{key}");
        assert_close!(cardinal.back_focus_mm, back, absolute = digits, "{key}");
        let stop = form(key).unwrap().prescription().stop().unwrap();
        if let Some(ratio) = ratio {
            assert_close!(lens.pupils(stop).ratio().unwrap(), ratio, absolute = 5.1e-6, "{key}");
        }
    }
}

#[test]
fn every_form_can_be_built_and_says_what_is_off() {
    for form in FORMS {
        let prescription = form.prescription();
        assert!(prescription.stop().is_some(), "{}", form.key);
        assert!(FORMS.iter().filter(|other| other.key == form.key).count() == 1, "{} twice", form.key);
        let scaled = form.scaled_to(80.0).unwrap().at(Wavelength::D).cardinal().unwrap();
        assert_close!(scaled.focal_length_mm, 80.0, relative = 1e-12, "{}", form.key);
        // Glass elements: every gap that is not air, by its own surfaces.
        let glasses = prescription.rows().iter().filter(|row| row.after != Medium::Air).count();
        assert_eq!(glasses, form.elements, "{}", form.key);
    }
    let off = |key: &str| form(key).unwrap().mismatch();
    // As found against the printed figures: 0.75 %, 0.09 %, 0.015 %, 0.4 % and 0.1 %, 1 %, 0.5 % and 2 %, 0.17 %, 0.09 %.
    assert_close!(off("triplet-derived-1903").focal_length_off.unwrap(), -0.0075, absolute = 5e-5);
    assert_close!(off("double-gauss-1930").focal_length_off.unwrap(), -0.0009, absolute = 5e-5);
    assert_close!(off("double-gauss-1954").focal_length_off.unwrap(), 0.00015, absolute = 5e-6);
    assert_close!(off("double-gauss-fast").focal_length_off.unwrap(), 0.004, absolute = 5e-4);
    assert_close!(off("projection-petzval").back_focus_off.unwrap(), 0.02, absolute = 5e-4);
    assert_close!(off("telephoto").focal_length_off.unwrap(), -0.0017, absolute = 5e-5);
    // The field-flattened form's focal length agrees and its distance to the film does not: reported, not adjusted.
    assert_close!(off("field-flattened").focal_length_off.unwrap(), -0.0006, absolute = 5e-5);
    assert_close!(off("field-flattened").back_focus_off.unwrap(), -0.290453, absolute = 1e-6);
    assert_eq!(off("symmetrical").focal_length_off, None);
}

#[test]
fn three_digit_indices_move_the_double_gauss_by_a_third_of_a_millimetre() {
    // The same table with a rendering textbook's rounded indices, by matrices: how much rounding costs.
    let rounded = [1.67, 1.0, 1.67, 1.699, 1.0, 1.0, 1.603, 1.658, 1.0, 1.717, 1.0];
    let rows = form("double-gauss-1954").unwrap().prescription();
    let rows = rows.rows().iter().zip(rounded).map(|(row, index)| Row { after: Medium::Constant(index), ..*row });
    let rows = rows.map(|row| if row.after == Medium::Constant(1.0) { Row { after: Medium::Air, ..row } } else { row });
    let cardinal = rays::Prescription::new(rows.collect()).unwrap().at(Wavelength::D).cardinal().unwrap();
    assert_close!(cardinal.focal_length_mm, 50.358167, absolute = 5.1e-7);
    assert_close!(cardinal.back_focus_mm, 36.105905, absolute = 5.1e-7);
}

/// (form, y, longitudinal aberration, sin U'): patents traced by an independent exact trace.
#[test]
fn exact_axial_rays() {
    for (key, y, aberration, sine) in [
        ("double-gauss-1954", 3.0, -0.023021713, 0.0600159994),
        ("double-gauss-1954", 6.0, -0.074475758, 0.1201441939),
        ("double-gauss-1954", 9.0, -0.095655390, 0.1802892256),
        ("double-gauss-1954", 12.0, 0.024795987, 0.2398737866),
        ("double-gauss-1930", 10.0, -0.078722599, 0.1001663328),
        ("double-gauss-1930", 20.0, -0.254197858, 0.2007072479),
        ("double-gauss-1930", 30.0, -0.237950977, 0.3011502866),
        ("telephoto", 10.0, -0.371848168, 0.0401532897),
        ("telephoto", 20.0, -0.925336851, 0.0805513686),
    ] {
        let lens = lens(key);
        let (at, got) = parallel(&lens, y);
        assert_close!(at - lens.cardinal().unwrap().back_focus_mm, aberration, absolute = 5.1e-10, "{key} {y}");
        assert_close!(got, sine, absolute = 5.1e-11, "{key} {y}");
    }
}

/// Kingslake's doublet: y, where the ray crosses (traced independently; the book's own figures agree), sin U'.
#[test]
fn exact_rays_of_the_cemented_doublet() {
    let lens = lens("cemented-doublet");
    let (at, sine) = parallel(&lens, 2.0);
    assert_close!(at, 11.2939085, absolute = 5.1e-8);
    assert_close!(sine, 0.16658568, absolute = 5.1e-9);
    assert_close!(parallel(&lens, 2.0f64.sqrt()).0, 11.2683865, absolute = 5.1e-8);
    assert_close!(parallel(&lens, 1.0).0, 11.2728191, absolute = 5.1e-8);
}

/// Skew rays through the point (3.6, 4.8) of the paraxial entrance pupil of the double Gauss of
/// 1954, met with the plane of the back focus (independent exact trace).
#[test]
fn exact_skew_rays() {
    let lens = lens("double-gauss-1954");
    let entrance = lens.pupils(5).entrance_mm.unwrap();
    assert_close!(entrance, 19.96603, absolute = 5.1e-6);
    assert_close!(lens.pupils(5).exit_mm.unwrap(), -17.78453, absolute = 5.1e-6);
    let back = lens.cardinal().unwrap().back_focus_mm;
    let film = |x: f64, y: f64, degrees: f64| {
        let (sine, cosine) = degrees.to_radians().sin_cos();
        let mut rays = Rays::new([Ray { at: [x, y, entrance], toward: [0.0, sine, cosine], path_mm: 0.0 }]);
        lens.trace(&mut rays, Openings::Measure);
        let ray = rays.get(0).unwrap();
        let along = (back - ray.at[2]) / ray.toward[2];
        [ray.at[0] + along * ray.toward[0], ray.at[1] + along * ray.toward[1]]
    };
    for (degrees, skew) in [
        (5.0f64, [-0.005566381, 4.367674958]),
        (10.0, [-0.006129165, 8.797065894]),
        (15.0, [-0.005085708, 13.329515135]),
    ] {
        let at = film(3.6, 4.8, degrees);
        assert_close!(at[0], skew[0], absolute = 5.1e-10);
        assert_close!(at[1], skew[1], absolute = 5.1e-10);
    }
}

/// The reference results of a public-domain floating-point benchmark for Wyld's objective: marginal and paraxial rays,
/// spherical aberration, offence against the sine condition, axial colour, all to every printed digit.
#[test]
fn the_benchmark_objective_to_every_digit() {
    let form = form("air-spaced-achromat").unwrap().prescription();
    let line = |um: f64| form.at(Wavelength::from_um(um).unwrap());
    let (d, f, c) = (line(0.5895944), line(0.4861344), line(0.6562816));
    let (at, sine) = parallel(&d, 2.0);
    assert_close!(at, 47.09479120920, absolute = 5.1e-12);
    assert_close!(sine.asin(), 0.04178472683, absolute = 5.1e-12);
    let last = d.paraxial(2.0, 0.0)[3];
    let paraxial = -last.height_mm / last.slope;
    assert_close!(paraxial, 47.08372160249, absolute = 5.1e-12);
    assert_close!(-last.slope, 0.04177864821, absolute = 5.1e-12);
    assert_close!(paraxial - at, -0.01106960671, absolute = 5.1e-12);
    // Offence against the sine condition, as the benchmark has it: 1 − (l'·u')/(sin U'·L').
    assert_close!(1.0 - paraxial * -last.slope / (sine * at), 0.00008954761, absolute = 5.1e-12);
    assert_close!(parallel(&f, 2.0).0 - parallel(&c, 2.0).0, 0.00448229032, absolute = 5.1e-12);
}

fn sequence(before: f64, surface: Surface, after: f64) -> Sequence {
    let medium = |index: f64| if index == 1.0 { Medium::Air } else { Medium::Constant(index) };
    rays::Prescription::behind(medium(before), vec![Row::new(surface, None, medium(after))]).unwrap().at(Wavelength::D)
}

/// A sphere images the point at R/n from its centre to R·n, for every ray, with sin U inside n times that outside (Born & Wolf, 4.2.3).
#[test]
fn the_aplanatic_points_of_a_sphere_are_perfect() {
    let sphere = sequence(1.5, Surface::sphere(-10.0), 1.0);
    for degrees in [5.0f64, 20.0, 40.0] {
        let (sine, cosine) = degrees.to_radians().sin_cos();
        // The centre lies 10 before the vertex, the point 10/1.5 before the centre.
        let (at, outside) = crossing(&sphere, [0.0, 0.0, -10.0 - 10.0 / 1.5], [0.0, sine, cosine]);
        assert_close!(at + 10.0, -15.0, absolute = 1e-12);
        assert_close!(-sine / outside, 1.5, relative = 1e-13);
    }
    // The other two: the vertex and the centre.
    let (at, _) = crossing(&sphere, [0.0, 0.0, -10.0], [0.0, 0.6, 0.8]);
    assert_close!(at, -10.0, absolute = 1e-12);
    let (at, sine) = crossing(&sphere, [0.0; 3], [0.0, 0.28, 0.96]);
    assert_close!(at, 0.0, absolute = 1e-14);
    assert_close!(-sine, 0.42, relative = 1e-14);
}

/// Descartes: an ellipse of k = −1/n² focuses parallel light in glass perfectly, a hyperbola of k = −n² out of glass.
#[test]
fn cartesian_surfaces_are_perfect() {
    let n = 1.5168f64;
    let into = sequence(1.0, Surface::conic(40.0, -n.powi(-2)), n);
    for y in [5.0, 10.0, 20.0] {
        assert_close!(parallel(&into, y).0, 117.39938080495357, absolute = 1e-11);
    }
    let out = sequence(n, Surface::conic(-40.0, -n * n), 1.0);
    for y in [5.0, 10.0, 15.0] {
        assert_close!(parallel(&out, y).0, 77.39938080495358, absolute = 1e-11);
    }
}

/// A plano-convex lens bends light best with its round side to the parallel light: longitudinal aberration at y = 10 of
/// R 51.68, thickness 4, n 1.5168, by an independent exact trace.
#[test]
fn a_plano_convex_lens_both_ways_round() {
    let rows = vec![Row::sphere(51.68, 4.0, Medium::Constant(1.5168)), Row::new(Surface::PLANE, None, Medium::Air)];
    let lens = rays::Prescription::new(rows).unwrap();
    for (lens, aberration) in [(lens.clone(), -1.1011915442110904), (lens.reversed(), -4.3818386592260055)] {
        let lens = lens.at(Wavelength::D);
        assert_close!(parallel(&lens, 10.0).0 - lens.cardinal().unwrap().back_focus_mm, aberration, absolute = 1e-12);
    }
}

/// A paraboloid mirror (k = −1) has a perfect focus at R/2 for light along its axis (standard; Descartes knew it), to first
/// order as exactly; off the axis its coma stays: rays from both rims of a bundle at 1 degree meet beside the middle one.
#[test]
fn a_paraboloid_mirror_is_perfect_on_its_axis_alone() {
    let radius = -200.0;
    let row = Row::new(Surface::conic(radius, -1.0), None, Medium::Mirrored);
    let mirror = rays::Prescription::new(vec![row]).unwrap().at(Wavelength::D);
    assert_close!(mirror.cardinal().unwrap().back_focus_mm, 0.5 * radius, absolute = 1e-12);
    for y in [5.0, 20.0, 40.0] {
        assert_close!(parallel(&mirror, y).0, 0.5 * radius, absolute = 1e-11);
    }
    // Where a ray crosses the focal plane, from 1 degree off the axis.
    let at_focus = |y: f64| {
        let (sine, cosine) = 1f64.to_radians().sin_cos();
        let mut rays = Rays::new([Ray { at: [0.0, y, -10.0], toward: [0.0, sine, cosine], path_mm: 0.0 }]);
        mirror.trace(&mut rays, Openings::Measure);
        let ray = rays.get(0).unwrap();
        ray.at[1] + (0.5 * radius - ray.at[2]) * ray.toward[1] / ray.toward[2]
    };
    // Start heights that meet the mirror's vertex plane at −30, 0, 30.
    let lead = 10.0 * 1f64.to_radians().tan();
    let [low, middle, high] = [-30.0, 0.0, 30.0].map(|y| at_focus(y - lead));
    // Tangential coma of a paraboloid: 3θ·y²/(4f)·… with f = 100: 3·y²·tan θ/(4f) (third order; Welford 7.5, from memory).
    let coma = 0.5 * (low + high) - middle;
    assert_close!(coma.abs(), 0.75 * 30.0 * 30.0 * 1f64.to_radians().tan() / 100.0, relative = 5e-2);
}

/// What a photographer can see of a lens finds the form that textbooks would name.
#[test]
fn looks_find_the_textbooks_form() {
    use rays::{BackFocus, Looks, nearest_forms};
    let nearest = |elements, symmetric, back_focus| {
        let looks = Looks { elements: Some(elements), symmetric: Some(symmetric), back_focus: Some(back_focus) };
        (nearest_forms(&looks)[0].key, nearest_forms(&looks)[0].distance(&looks))
    };
    assert_eq!(nearest(4, false, BackFocus::Usual), ("triplet-derived-1903", 0));
    assert_eq!(nearest(6, true, BackFocus::Usual), ("double-gauss-1930", 0));
    assert_eq!(nearest(4, false, BackFocus::Short), ("telephoto", 0));
    assert_eq!(nearest(6, false, BackFocus::Long), ("fisheye", 0));
    // Without answers nothing is farther than anything else.
    let any = nearest_forms(&Looks::default());
    assert_eq!(
        any.iter().map(|form| form.key).collect::<Vec<_>>(),
        FORMS.iter().map(|form| form.key).collect::<Vec<_>>()
    );
}
