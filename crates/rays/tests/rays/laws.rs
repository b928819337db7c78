//! Laws: closed forms of the third order, symmetry, reciprocity, étendue, agreement with first-order black boxes.

use proptest::prelude::*;
use rays::{
    Colours, Iris, Medium, Object, Openings, Part, Prescription, Ray, Rays, Row, Start, Surface, System, Wavelength,
    form,
};
use testkit::assert_close;

/// A thin lens of power 0.01 in N-BK7-like glass, bent by X = (c₁ + c₂)/(c₁ − c₂), its stop on it.
fn thin(bending: f64) -> System {
    let glass = Medium::patent(1.5168, 64.17);
    let difference = 0.01 / 0.5168;
    let (first, second) = (0.5 * difference * (bending + 1.0), 0.5 * difference * (bending - 1.0));
    let rows = vec![
        Row { stop: true, ..Row::new(Surface::curved(first), Some(0.0), glass) },
        Row::new(Surface::curved(second), None, Medium::Air),
    ];
    let parts = [Part { lens: Prescription::new(rows).unwrap(), gap_after_mm: 100.0 }];
    System::new(Object::Infinity, &parts, Iris { part: 0, semi_diameter_mm: 10.0 }).unwrap()
}

/// Thin lens in air, stop on it, object at infinity, y = 10, field 0.1 (Welford; Born & Wolf, 5.5: the closed forms, computed).
#[test]
fn a_thin_lens_has_its_closed_forms() {
    for (bending, spherical, coma) in [
        (-1.0, 0.0861413413, -0.0293498452),
        (0.0, 0.0323317488, -0.0132964135),
        (1.0, 0.0219276145, 0.00275701820),
        (0.7396964513193812, 0.0204570824, -0.00142174704),
        (2.0, 0.0549289384, 0.0188104499),
    ] {
        let sums = thin(bending).seidel(0.1, Colours::default());
        assert_close!(sums.total.spherical, spherical, absolute = 5.1e-11);
        assert_close!(sums.lagrange_mm, 1.0, absolute = 1e-14);
        assert_close!(sums.total.coma, coma, absolute = 5.1e-11);
        assert_close!(sums.total.astigmatism, 0.01, absolute = 1e-14);
        assert_close!(sums.total.petzval, 0.00659282700, absolute = 5.1e-12);
        assert_close!(sums.total.distortion, 0.0, absolute = 1e-15);
        assert_close!(sums.total.axial_colour, 0.0155836060, absolute = 5.1e-11);
        assert_close!(sums.total.lateral_colour, 0.0, absolute = 1e-15);
        assert_close!(sums.petzval_per_mm, sums.total.petzval, relative = 1e-13);
    }
}

/// The bending of least spherical aberration for n = 1.5168 and 1.5: X = 2(n² − 1)/(n + 2).
#[test]
fn the_least_spherical_bending_is_a_minimum() {
    let at = |bending: f64| thin(bending).seidel(0.1, Colours::default()).total.spherical;
    let best = 0.7396964513193812;
    let slope = (at(best + 1e-4) - at(best - 1e-4)) / 2e-4;
    assert_close!(slope, 0.0, absolute = 1e-9);
    assert!(at(best) < at(best - 0.1) && at(best) < at(best + 0.1));
}

/// Stop shift: with the chief ray moved by E·(marginal ray), SII* = SII + E·SI, SIII* = SIII + 2E·SII + E²·SI,
/// SV* = SV + E(3SIII + SIV) + 3E²SII + E³SI, CII* = CII + E·CI; SI, SIV, CI stay (Welford, 8.5).
#[test]
fn sums_follow_the_stop_shift_laws() {
    let lens = form("double-gauss-1954").unwrap().prescription();
    let lines = [Wavelength::D, Wavelength::F, Wavelength::C].map(|line| lens.at(line));
    let marginal = Start { height_mm: 10.0, slope: 0.02 };
    let chief = Start { height_mm: -3.0, slope: 0.2 };
    let shift = 0.37;
    let moved =
        Start { height_mm: chief.height_mm + shift * marginal.height_mm, slope: chief.slope + shift * marginal.slope };
    let sums = |chief: Start| lines[0].seidel(marginal, chief, [&lines[1], &lines[2]]);
    let (old, new) = (sums(chief), sums(moved));
    for (old, new) in old.surfaces.iter().zip(&new.surfaces).chain([(&old.total, &new.total)]) {
        let (one, two, three, four) = (old.spherical, old.coma, old.astigmatism, old.petzval);
        assert_close!(new.spherical, one, absolute = 1e-12);
        assert_close!(new.petzval, four, absolute = 1e-12);
        assert_close!(new.axial_colour, old.axial_colour, absolute = 1e-12);
        assert_close!(new.coma, two + shift * one, absolute = 1e-12);
        assert_close!(new.astigmatism, three + 2.0 * shift * two + shift.powi(2) * one, absolute = 1e-12);
        let distortion =
            old.distortion + shift * (3.0 * three + four) + 3.0 * shift.powi(2) * two + shift.powi(3) * one;
        assert_close!(new.distortion, distortion, absolute = 1e-12);
        assert_close!(new.lateral_colour, old.lateral_colour + shift * old.axial_colour, absolute = 1e-12);
    }
    assert_close!(old.lagrange_mm, new.lagrange_mm, relative = 1e-13);
}

/// y⁴, y³ȳ, y²ȳ², y²ȳ², yȳ³, y², yȳ.
#[test]
fn sums_grow_with_their_powers_of_pupil_and_field() {
    let system = double_gauss(2.0);
    let wide = system.clone().with_iris(2.0 * system.semi_diameter_mm()).unwrap();
    let sums = |system: &System, field: f64| system.seidel(field, Colours::default()).total;
    let (base, wide, far) = (sums(&system, 0.1), sums(&wide, 0.1), sums(&system, 0.2));
    for (figure, pupil, field) in [
        ((base.spherical, wide.spherical, far.spherical), 16.0, 1.0),
        ((base.coma, wide.coma, far.coma), 8.0, 2.0),
        ((base.astigmatism, wide.astigmatism, far.astigmatism), 4.0, 4.0),
        ((base.petzval, wide.petzval, far.petzval), 4.0, 4.0),
        ((base.distortion, wide.distortion, far.distortion), 2.0, 8.0),
        ((base.axial_colour, wide.axial_colour, far.axial_colour), 4.0, 1.0),
        ((base.lateral_colour, wide.lateral_colour, far.lateral_colour), 2.0, 2.0),
    ] {
        assert_close!(figure.1, pupil * figure.0, relative = 1e-10);
        assert_close!(figure.2, field * figure.0, relative = 1e-10);
    }
}

/// The double Gauss of 1954 at its 50 mm, film at the paraxial focus.
fn double_gauss(f_number: f64) -> System {
    let lens = form("double-gauss-1954").unwrap().prescription();
    let semi_diameter_mm = lens.semi_diameter_for(f_number, Wavelength::D).unwrap();
    let parts = [Part { lens, gap_after_mm: 40.0 }];
    let system = System::new(Object::Infinity, &parts, Iris { part: 0, semi_diameter_mm }).unwrap();
    system.with_film_in_focus(Wavelength::D).unwrap()
}

/// Small apertures and fields: exact rays go over into the third-order sums. With u' the marginal slope: the rim's path is
/// SI/8 shorter, distortion is −SV/2H, the foci lie (SIII + SIV)/2u'² and (3SIII + SIV)/2u'² before the film, colours differ
/// by CI/u'² along the axis and CII/u' across it (Welford, 8.2 and 10.3).
#[test]
fn exact_rays_go_over_into_the_sums() {
    let near = [0.5865618, 0.5885618].map(|um| Wavelength::from_um(um).unwrap());
    let colours = Colours { main: Wavelength::D, short: near[0], long: near[1] };
    let (system, field) = (double_gauss(50.0), 0.02);
    let sums = system.seidel(field, colours);
    let (total, slope) = (sums.total, 0.5 / system.first_order(Wavelength::D).f_number);
    let rim = system.fan(0.0, Wavelength::D, 4).unwrap().tangential[8].unwrap();
    assert_close!(rim.waves * Wavelength::D.mm(), -total.spherical / 8.0, relative = 2e-3);
    let distortion = system.distortion(field, Wavelength::D).unwrap();
    assert_close!(distortion, -0.5 * total.distortion / sums.lagrange_mm, relative = 1e-3);
    let foci = system.field_focus(field, Wavelength::D).unwrap();
    let before = |sum: f64| -0.5 * (sum + total.petzval) / slope.powi(2);
    assert_close!(foci.sagittal_mm, before(total.astigmatism), relative = 5e-3);
    assert_close!(foci.tangential_mm, before(3.0 * total.astigmatism), relative = 5e-3);
    let axial = system.axial_colour_mm(near[0], near[1]);
    assert_close!(axial, -total.axial_colour / slope.powi(2), relative = 1e-3);
    let lateral = system.lateral_colour_mm(field, near[0], near[1]).unwrap();
    assert_close!(lateral, -total.lateral_colour / slope, relative = 1e-2);
}

/// Chief rays through the middle of the real stop, of the double Gauss of 1954: heights on the paraxial focal plane and
/// distortion in per cent (independent exact trace).
#[test]
fn exact_chief_rays_through_the_real_stop() {
    let system = double_gauss(2.0);
    for (degrees, height, distortion) in
        [(5.0f64, 4.372827083, -0.051674), (10.0, 8.798539936, -0.216935), (15.0, 13.328525626, -0.529417)]
    {
        let field = degrees.to_radians().tan();
        assert_close!(system.chief_ray(field, Wavelength::D).unwrap().film_mm, height, absolute = 5.1e-10);
        assert_close!(100.0 * system.distortion(field, Wavelength::D).unwrap(), distortion, absolute = 5.1e-7);
        assert_close!(system.field_at_film(height, Wavelength::D).unwrap(), field, absolute = 1e-10);
    }
}

/// A symmetrical lens at life size has no distortion and no lateral colour, to all orders, whatever its glass (our own construction).
#[test]
fn a_symmetrical_lens_at_life_size() {
    let lens = form("symmetrical").unwrap().prescription();
    let cardinal = lens.at(Wavelength::D).cardinal().unwrap();
    let (focal, back) = (cardinal.focal_length_mm, cardinal.back_focus_mm);
    let object = Object::At { distance_mm: focal - cardinal.front_focus_mm };
    let parts = [Part { lens, gap_after_mm: focal + back }];
    let system = System::new(object, &parts, Iris { part: 0, semi_diameter_mm: 2.5 }).unwrap();
    assert_close!(system.first_order(Wavelength::D).scale, -1.0, absolute = 1e-12);
    for height in [5.0, 10.0, 15.0] {
        for line in [Wavelength::F, Wavelength::D, Wavelength::C] {
            assert_close!(system.chief_ray(height, line).unwrap().film_mm, -height, absolute = 1e-10);
        }
    }
    // Coma is gone to third order only: beyond, what the first half does to a ray meets the second half.
    let sums = system.seidel(10.0, Colours::default()).total;
    for odd in [sums.coma, sums.distortion, sums.lateral_colour] {
        assert_close!(odd, 0.0, absolute = 1e-14);
    }
}

/// The two foci of Coddington's equations are where two close rays cross, sagittally and tangentially.
#[test]
fn field_foci_are_where_close_rays_cross() {
    let system = double_gauss(400.0);
    for field in [0.1, 0.2, 0.3] {
        let foci = system.field_focus(field, Wavelength::D).unwrap();
        for (focus, axis) in [(foci.sagittal_mm, 0), (foci.tangential_mm, 1)] {
            // At the focus the fan's miss has no part that is linear in the place on the stop.
            let there = system.clone().with_film(system.film_mm() + focus).unwrap();
            let (here, there) = (system.fan(field, Wavelength::D, 1), there.fan(field, Wavelength::D, 1));
            let linear = |fan: &rays::Fan| match axis {
                0 => fan.sagittal[1].unwrap().miss_mm[0],
                _ => 0.5 * (fan.tangential[2].unwrap().miss_mm[1] - fan.tangential[0].unwrap().miss_mm[1]),
            };
            let (before, after) = (linear(&here.unwrap()), linear(&there.unwrap()));
            assert!(before.abs() > 1e-5, "{before}");
            assert_close!(after / before, 0.0, absolute = 1e-3);
        }
    }
}

/// Focal length, principal planes and pupils of a table make the black box of the optics crate; extended by tubes it has the
/// same magnification, subject distance and effective f-number as the traced surfaces.
#[test]
fn a_table_is_the_black_box_that_optics_knows() {
    let lens = form("double-gauss-1954").unwrap().scaled_to(80.0).unwrap();
    let at = lens.at(Wavelength::D);
    let (cardinal, ratio) = (at.cardinal().unwrap(), at.pupils(lens.stop().unwrap()).ratio().unwrap());
    for reversed in [false, true] {
        // Seat and front rim are put at the outer vertices, so the register is the back focus.
        let boxed = optics::BlackBox {
            focal_length: cardinal.focal_length_mm,
            separation: cardinal.separation_mm,
            pupil_ratio: ratio,
            f_number: 16.0,
            length: lens.length_mm(),
            register: cardinal.back_focus_mm,
        };
        let film_mm = 140.0;
        let placed = if reversed { boxed.reversed(film_mm, 0.0, 0) } else { boxed.seated(film_mm, 0.0, 0) };
        let front = placed.front;
        let train = optics::Train { elements: vec![placed.element], stops: vec![placed.stop], front };
        let image = train.image().unwrap();
        let part = if reversed { lens.reversed() } else { lens.clone() };
        let iris = Iris { part: 0, semi_diameter_mm: lens.semi_diameter_for(16.0, Wavelength::D).unwrap() };
        let system = System::new(Object::Infinity, &[Part { lens: part, gap_after_mm: film_mm }], iris).unwrap();
        let system = system.with_object_in_focus(Wavelength::D).unwrap();
        let first = system.first_order(Wavelength::D);
        let Object::At { distance_mm } = system.object() else { panic!("near") };
        assert_close!(-first.scale, image.magnification, relative = 1e-12);
        assert_close!(front + distance_mm, image.subject.unwrap(), relative = 1e-12);
        assert_close!(first.f_number, 0.5 / image.film_slope, relative = 1e-12);
        assert_close!(first.image_mm, film_mm, relative = 1e-12);
    }
}

fn lens_of_chance() -> impl Strategy<Value = Prescription> {
    let row = (-0.02..0.02f64, 1.0..6.0f64, 1.4..1.9f64, any::<bool>(), -1.0..1.0f64, -1e-7..1e-7f64);
    prop::collection::vec(row, 2..8).prop_map(|rows| {
        let count = rows.len();
        let rows = rows.into_iter().enumerate().map(|(i, (curvature, gap, index, glass, conic, even))| {
            let mut surface = Surface { conic, ..Surface::curved(curvature) };
            surface.asphere[0] = even;
            let last = i + 1 == count;
            let after = if glass && !last { Medium::Constant(index) } else { Medium::Air };
            Row::new(surface, (!last).then_some(gap), after)
        });
        Prescription::new(rows.collect()).expect("gaps above 0 and indices above 1")
    })
}

/// A ray's figures at the plane of the last vertex, from the plane of the first: (x, y, n·L, n·M).
fn plane_to_plane(lens: &Prescription, from: [f64; 4]) -> Option<[f64; 4]> {
    let [x, y, l, m] = from;
    let n = (1.0 - l * l - m * m).sqrt();
    let mut rays = Rays::new([Ray { at: [x, y, 0.0], toward: [l, m, n], path_mm: 0.0 }]);
    lens.at(Wavelength::D).trace(&mut rays, Openings::Measure);
    let ray = rays.get(0).ok()?;
    let along = -ray.at[2] / ray.toward[2];
    Some([ray.at[0] + along * ray.toward[0], ray.at[1] + along * ray.toward[1], ray.toward[0], ray.toward[1]])
}

fn determinant(matrix: &mut [[f64; 4]; 4]) -> f64 {
    let mut product = 1.0;
    for i in 0..4 {
        let pivot = (i..4).max_by(|p, q| matrix[*p][i].abs().total_cmp(&matrix[*q][i].abs())).unwrap();
        if pivot != i {
            matrix.swap(pivot, i);
            product = -product;
        }
        product *= matrix[i][i];
        for row in i + 1..4 {
            let (pivot, share) = (matrix[i], matrix[row][i] / matrix[i][i]);
            matrix[row].iter_mut().zip(pivot).for_each(|(value, above)| *value -= share * above);
        }
    }
    product
}

proptest! {
    #[test]
    fn turned_round_twice_is_the_lens_itself(lens in lens_of_chance()) {
        prop_assert_eq!(lens.reversed().reversed(), lens);
    }

    #[test]
    fn a_ray_sent_back_returns(lens in lens_of_chance(), x in -3.0..3.0f64, y in -3.0..3.0f64, l in -0.1..0.1f64, m in -0.1..0.1f64) {
        let Some([x1, y1, l1, m1]) = plane_to_plane(&lens, [x, y, l, m]) else { return Ok(()) };
        let Some(back) = plane_to_plane(&lens.reversed(), [x1, y1, -l1, -m1]) else {
            return Err(TestCaseError::fail("lost on the way back"));
        };
        for (got, sent) in back.iter().zip([x, y, -l, -m]) {
            assert_close!(*got, sent, absolute = 1e-9);
        }
    }

    #[test]
    fn light_keeps_its_etendue(lens in lens_of_chance(), x in -3.0..3.0f64, y in -3.0..3.0f64, l in -0.1..0.1f64, m in -0.1..0.1f64) {
        // The determinant of (x, y, L, M) by central differences is 1; their own error is the step squared times third
        // derivatives, which these curvatures keep below 1e-6.
        let step = 1e-4;
        let mut jacobian = [[0.0; 4]; 4];
        for k in 0..4 {
            let moved = |by: f64| {
                let mut from = [x, y, l, m];
                from[k] += by;
                plane_to_plane(&lens, from)
            };
            let (Some(above), Some(below)) = (moved(step), moved(-step)) else { return Ok(()) };
            for row in 0..4 {
                jacobian[row][k] = (above[row] - below[row]) / (2.0 * step);
            }
        }
        assert_close!(determinant(&mut jacobian), 1.0, absolute = 1e-5);
    }

    #[test]
    fn near_the_axis_rays_follow_the_matrix(lens in lens_of_chance(), y in -1.0..1.0f64, m in -1.0..1.0f64) {
        let matrix = lens.at(Wavelength::D).abcd();
        assert_close!(matrix.a * matrix.d - matrix.b * matrix.c, 1.0, absolute = 1e-12);
        let small = 1e-5;
        if let Some([_, height, _, slope]) = plane_to_plane(&lens, [0.0, small * y, 0.0, small * m]) {
            assert_close!(height / small, matrix.a * y + matrix.b * m, absolute = 1e-7);
            assert_close!(slope / small, matrix.c * y + matrix.d * m, absolute = 1e-8);
        }
    }
}
