//! Set-ups of parts, close-up lenses, surfaces of every kind.

use proptest::prelude::*;
use rays::{
    AimError, CloseUp, CloseUpError, CloseUpKind, Iris, Medium, Object, Openings, Part, Prescription, Ray, Rays, Row,
    Spectrum, Surface, System, SystemError, Wavelength, form,
};
use testkit::assert_close;

fn lens() -> Prescription {
    form("double-gauss-1954").unwrap().prescription()
}

fn part(gap_after_mm: f64) -> Part {
    Part { lens: lens(), gap_after_mm }
}

const IRIS: Iris = Iris { part: 0, semi_diameter_mm: 2.0 };

#[test]
fn set_ups_that_cannot_be_are_refused_by_part() {
    let new = |parts: &[Part], iris: Iris| System::new(Object::Infinity, parts, iris).expect_err("refused");
    assert_eq!(new(&[], IRIS), SystemError::Empty);
    assert!(matches!(new(&[part(f64::NAN), part(40.0)], IRIS), SystemError::Gap { part: 1, .. }));
    assert_eq!(new(&[part(-1.0), part(40.0)], IRIS), SystemError::Gap { part: 1, gap_mm: -1.0 });
    assert_eq!(new(&[part(0.0)], IRIS), SystemError::Film { film_mm: 0.0 });
    assert_eq!(new(&[part(40.0)], Iris { part: 1, ..IRIS }), SystemError::NoSuchPart { part: 2, parts: 1 });
    let wide = Iris { semi_diameter_mm: 0.0, ..IRIS };
    assert_eq!(new(&[part(40.0)], wide), SystemError::Iris { semi_diameter_mm: 0.0 });
    let close_up =
        CloseUp { power_dpt: 4.0, diameter_mm: 49.0, kind: CloseUpKind::PlanoConvex }.prescription().unwrap();
    let bare = Part { lens: close_up.clone(), gap_after_mm: 5.0 };
    assert_eq!(new(&[bare.clone(), part(40.0)], IRIS), SystemError::NoStop { part: 1 });
    // A hollow of 12.75 mm, 0.1 mm before something flat: at its rim it lies 3.7 mm farther back.
    let hollow =
        vec![Row::new(Surface::PLANE, Some(2.0), Medium::Constant(1.5)).clear(9.0), Row::last(12.75).clear(9.0)];
    let hollow = Part { lens: Prescription::new(hollow).unwrap(), gap_after_mm: 0.1 };
    let flat = Part { lens: close_up.reversed(), gap_after_mm: 5.0 };
    let touching = new(&[hollow, flat, part(40.0)], Iris { part: 2, ..IRIS });
    assert!(matches!(touching, SystemError::Crossing { part: 1, .. }), "{touching}");
    let wet = Prescription::behind(Medium::Constant(1.33), lens().rows().to_vec()).unwrap();
    let differ = new(&[part(5.0), Part { lens: wet, gap_after_mm: 40.0 }], IRIS);
    assert_eq!(differ, SystemError::MediaDiffer { part: 1 });
    let system = System::new(Object::Infinity, &[part(40.0)], IRIS).unwrap();
    for distance_mm in [0.0, -5.0, f64::INFINITY, f64::NAN] {
        let refused = system.clone().with_object(Object::At { distance_mm });
        assert!(matches!(refused, Err(SystemError::Object { .. })));
    }
    // A film nearer than the back focus is sharp for nothing real.
    let near = system.clone().with_film(30.0).unwrap().with_object_in_focus(Wavelength::D);
    assert_eq!(near, Err(SystemError::NoFocus));
    let inside = system.with_object(Object::At { distance_mm: 5.0 }).unwrap().with_film_in_focus(Wavelength::D);
    assert_eq!(inside, Err(SystemError::NoFocus));
}

#[test]
fn places_that_no_light_comes_from_are_refused() {
    let system = System::new(Object::Infinity, &[part(40.0)], IRIS).unwrap();
    // 80 degrees from the axis no ray finds the middle of the stop, or every ray is cut at the front.
    let steep = system.pencil(80f64.to_radians().tan(), &Spectrum::visible(), 32);
    assert!(
        matches!(steep, Err(AimError::NoChief { .. } | AimError::Dark { .. } | AimError::TooFew { .. })),
        "{steep:?}"
    );
    assert!(matches!(
        system.field_at_film(500.0, Wavelength::D),
        Err(AimError::NoChief { .. } | AimError::NotReached { .. })
    ));
}

/// The wide form is aimed at although its paraxial chief rays miss: at 60 degrees the ray found passes the stop's middle.
#[test]
fn a_fisheye_is_aimed_at() {
    let lens = form("fisheye").unwrap().prescription();
    let stop = lens.stop().unwrap();
    let semi_diameter_mm = lens.semi_diameter_for(8.0, Wavelength::D).unwrap();
    let system =
        System::new(Object::Infinity, &[Part { lens, gap_after_mm: 23.16 }], Iris { part: 0, semi_diameter_mm });
    let system = system.unwrap();
    for degrees in [20.0f64, 40.0, 60.0] {
        let field = degrees.to_radians().tan();
        let fan = system.fan(field, Wavelength::D, 2).unwrap();
        assert_close!(fan.tangential[2].unwrap().miss_mm[1], 0.0, absolute = 1e-9);
        // Both rims are reached, and the picture is barrel-distorted, more so the farther out.
        assert!(fan.tangential[0].is_some() && fan.tangential[4].is_some());
        let distortion = system.distortion(field, Wavelength::D).unwrap();
        assert!(distortion < -0.035 * (degrees / 20.0).powi(2), "{distortion}");
    }
    assert_eq!(system.stop(), stop);
}

#[test]
fn close_up_lenses_have_their_power_either_way_round() {
    for kind in [CloseUpKind::PlanoConvex, CloseUpKind::Meniscus, CloseUpKind::Achromat] {
        for power_dpt in [1.0, 4.0, 10.0] {
            let lens = CloseUp { power_dpt, diameter_mm: 40.0, kind }.prescription().unwrap();
            for lens in [lens.clone(), lens.reversed()] {
                let focal = lens.at(Wavelength::D).cardinal().unwrap().focal_length_mm;
                assert_close!(focal, 1000.0 / power_dpt, relative = 1e-12, "{kind:?}");
            }
            let thin = lens.rows().iter().filter_map(|row| row.gap_mm).fold(f64::INFINITY, f64::min);
            assert!(thin >= 1.5, "{kind:?}: {thin}");
        }
    }
    // A plano-convex lens of one glass spreads F and C as the glass does, to the last digit; an achromat by far less.
    let spread = |kind| {
        let lens = CloseUp { power_dpt: 4.0, diameter_mm: 40.0, kind }.prescription().unwrap();
        let focal = |line| lens.at(line).cardinal().unwrap().focal_length_mm;
        focal(Wavelength::C) - focal(Wavelength::F)
    };
    // N-BK7 at d, F, C: the catalogue's printed digits.
    let expected = 250.0 * 0.5168000 * (1.0 / 0.5143223 - 1.0 / 0.5223763);
    assert_close!(spread(CloseUpKind::PlanoConvex), expected, relative = 1e-5);
    assert!(spread(CloseUpKind::Achromat).abs() < 0.1);
    for power_dpt in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let none = CloseUp { power_dpt, diameter_mm: 40.0, kind: CloseUpKind::Meniscus }.prescription();
        assert!(matches!(none, Err(CloseUpError::Power(_))));
    }
    let wide = CloseUp { power_dpt: 20.0, diameter_mm: 80.0, kind: CloseUpKind::PlanoConvex }.prescription();
    assert!(matches!(wide, Err(CloseUpError::Shape(_))));
}

/// A film in focus, the same as a lens shifted whole: coupling a lens reversed in front of another at infinity magnifies by
/// f_A/f_B (the trade's rule, exact for thin and thick lenses alike).
#[test]
fn a_lens_reversed_in_front_of_another_magnifies_by_their_focal_lengths() {
    let (front, rear) = (lens(), form("double-gauss-1954").unwrap().scaled_to(100.0).unwrap());
    let back = |lens: &Prescription| lens.at(Wavelength::D).cardinal().unwrap();
    let (front_focal, front_back) = (back(&front).focal_length_mm, back(&front).back_focus_mm);
    let parts = [
        Part { lens: front.reversed(), gap_after_mm: 10.0 },
        Part { gap_after_mm: back(&rear).back_focus_mm, lens: rear },
    ];
    let iris = Iris { part: 1, semi_diameter_mm: 5.0 };
    let system = System::new(Object::Infinity, &parts, iris).unwrap().with_object_in_focus(Wavelength::D).unwrap();
    let Object::At { distance_mm } = system.object() else { panic!("near") };
    assert_close!(distance_mm, front_back, relative = 1e-9);
    assert_close!(system.first_order(Wavelength::D).scale, -100.0 / front_focal, relative = 1e-9);
    // The other lens's stop is no stop any more, but its rim still cuts.
    assert_eq!(system.rows().iter().filter(|row| row.stop).count(), 1);
}

/// Vignetting: a clear diameter narrower than the pencil takes exactly its share of the light.
#[test]
fn a_narrow_rim_takes_its_share() {
    let open = vec![
        Row { stop: true, ..Row::new(Surface::PLANE, Some(10.0), Medium::Air) },
        Row::new(Surface::PLANE, None, Medium::Air),
    ];
    let object = Object::At { distance_mm: 100.0 };
    let light = |rows: &[Row], semi_diameter_mm: f64| {
        let parts = [Part { lens: Prescription::new(rows.to_vec()).unwrap(), gap_after_mm: 50.0 }];
        let system = System::new(object, &parts, Iris { part: 0, semi_diameter_mm }).unwrap();
        system.pencil(0.0, &Spectrum::one(Wavelength::D), 64).unwrap().light()
    };
    let mut narrow = open.clone();
    // From 100 mm away a stop of 1 mm and a rim of 0.55 mm 10 mm behind it, where the pencil is 1.1 mm: half the slope.
    narrow[1].semi_aperture_mm = Some(0.55);
    assert_close!(light(&narrow, 1.0), light(&open, 0.5), relative = 1e-3);
    narrow[1].semi_aperture_mm = Some(1.2);
    assert_close!(light(&narrow, 1.0), light(&open, 1.0), relative = 1e-9);
}

/// An asphere without an even term to speak of is its conic; the two are traced by different code.
#[test]
fn newton_finds_what_the_closed_form_finds() {
    let conic = Surface::conic(30.0, -0.7);
    let mut even = conic;
    even.asphere[0] = 1e-300;
    let trace = |surface: Surface| {
        let rows = vec![Row::new(surface, None, Medium::Constant(1.6))];
        let lens = Prescription::new(rows).unwrap().at(Wavelength::D);
        let start = |i: i32| {
            let (sine, cosine) = (0.01 * f64::from(i)).sin_cos();
            Ray { at: [0.3 * f64::from(i), 2.0, -50.0], toward: [0.0, sine, cosine], path_mm: 0.0 }
        };
        let mut rays = Rays::new((-20..20).map(start));
        lens.trace(&mut rays, Openings::Cut);
        rays
    };
    for (one, other) in trace(conic).iter().zip(trace(even).iter()) {
        let (one, other) = (one.unwrap(), other.unwrap());
        let figures = |ray: Ray| ray.at.into_iter().chain(ray.toward).chain([ray.path_mm]);
        for (one, other) in figures(one).zip(figures(other)) {
            assert_close!(one, other, absolute = 1e-13 * 50.0);
        }
    }
}

proptest! {
    /// Every ray that lives lies on the surface and obeys Snell's law as a vector: n·(d × normal) is the same on both sides.
    #[test]
    fn rays_lie_on_the_surface_and_obey_snell(
        curvature in -0.03..0.03f64, conic in -2.0..1.0f64, a in -1e-6..1e-6f64, b in -1e-9..1e-9f64,
        before in 1.0..1.9f64, after in 1.0..1.9f64,
        x in -10.0..10.0f64, y in -10.0..10.0f64, l in -0.3..0.3f64, m in -0.3..0.3f64,
    ) {
        let mut surface = Surface { conic, ..Surface::curved(curvature) };
        (surface.asphere[0], surface.asphere[1]) = (a, b);
        let rows = vec![Row::new(surface, None, Medium::Constant(after))];
        let lens = Prescription::behind(Medium::Constant(before), rows).unwrap().at(Wavelength::D);
        let toward = [l, m, (1.0 - l * l - m * m).sqrt()];
        let mut rays = Rays::new([Ray { at: [x, y, -20.0], toward, path_mm: 0.0 }]);
        lens.trace(&mut rays, Openings::Cut);
        let Ok(ray) = rays.get(0) else { return Ok(()) };
        let r = ray.at[0].hypot(ray.at[1]);
        assert_close!(ray.at[2], surface.sag(r).unwrap(), absolute = 1e-11);
        let (slope, _) = surface.slopes(r).unwrap();
        let normal = [-slope * ray.at[0] / r.max(1e-300), -slope * ray.at[1] / r.max(1e-300), 1.0];
        let cross = |d: [f64; 3], n: f64| [
            n * (d[1] * normal[2] - d[2] * normal[1]),
            n * (d[2] * normal[0] - d[0] * normal[2]),
            n * (d[0] * normal[1] - d[1] * normal[0]),
        ];
        for (one, other) in cross(toward, before).into_iter().zip(cross(ray.toward, after)) {
            assert_close!(one, other, absolute = 1e-12);
        }
        assert_close!(ray.toward.iter().map(|d| d * d).sum::<f64>(), 1.0, absolute = 1e-13);
        let way = [0, 1, 2].map(|k| ray.at[k] - [x, y, -20.0][k]).iter().map(|d| d * d).sum::<f64>().sqrt();
        assert_close!(ray.path_mm, before * way, relative = 1e-12);
    }
}

/// Spheres alone are traced by a quicker way, in lots; one even term too small to matter sends every ray the careful way. Both
/// find the same points, and the same losses at the same rows, of rays that are lost in every kind.
#[test]
fn the_quick_way_and_the_careful_way_agree() {
    let quick = lens().rows().to_vec();
    let mut careful = quick.clone();
    careful[0].surface.asphere[0] = 1e-300;
    let start = |i: u32| {
        let (place, turn) = (f64::from(i % 37), f64::from(i / 37));
        let (sine, cosine) = (0.05 * (turn - 13.0)).sin_cos();
        Ray {
            at: [0.8 * (place - 18.0), 0.3 * turn, -2.0],
            toward: [0.3 * sine, sine * 0.91f64.sqrt(), cosine],
            path_mm: 1.0,
        }
    };
    let trace = |rows: &[Row], openings: Openings| {
        let mut rays = Rays::new((0..37 * 27).map(start));
        Prescription::new(rows.to_vec()).unwrap().at(Wavelength::D).trace(&mut rays, openings);
        rays
    };
    for openings in [Openings::Cut, Openings::Measure] {
        let (one, other) = (trace(&quick, openings), trace(&careful, openings));
        assert_eq!(one.losses(), other.losses());
        let losses = one.losses();
        assert!(losses.total() < one.len() && losses.missed > 0, "{losses:?}");
        assert_eq!(losses.cut > 0, openings == Openings::Cut);
        for i in 0..one.len() {
            match (one.get(i), other.get(i)) {
                (Ok(one), Ok(other)) => {
                    let figures = |ray: Ray| ray.at.into_iter().chain(ray.toward).chain([ray.path_mm]);
                    for (one, other) in figures(one).zip(figures(other)) {
                        assert_close!(one, other, absolute = 1e-11);
                    }
                }
                (one, other) => assert_eq!(one.unwrap_err(), other.unwrap_err(), "ray {i}"),
            }
            if one.get(i).is_ok() {
                assert_close!(one.fullness(i), other.fullness(i), relative = 1e-9);
            }
        }
    }
}
