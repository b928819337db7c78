//! Tables that are no lenses, and rays that do not get through: every refusal by its row, every loss by its kind.

use rays::{
    Loss, Lost, Medium, Openings, Prescription, PrescriptionError, Ray, Rays, Row, Surface, Wavelength, WavelengthError,
};
use testkit::assert_close;

const GLASS: Medium = Medium::Constant(1.5);

fn singlet() -> Vec<Row> {
    vec![Row::sphere(50.0, 5.0, GLASS), Row::last(-50.0)]
}

/// The refusal of a singlet after `spoil` had its way with the rows.
fn refusal(spoil: impl Fn(&mut Vec<Row>)) -> PrescriptionError {
    let mut rows = singlet();
    spoil(&mut rows);
    Prescription::new(rows).expect_err("spoilt")
}

#[test]
fn tables_that_are_no_lenses_are_refused_by_row() {
    assert!(Prescription::new(singlet()).is_ok());
    assert_eq!(refusal(|rows| rows.clear()), PrescriptionError::Empty);
    assert_eq!(refusal(|rows| rows[0].gap_mm = None), PrescriptionError::MissingGap { row: 1 });
    assert_eq!(refusal(|rows| rows[1].gap_mm = Some(2.0)), PrescriptionError::GapAfterLast { row: 2, gap_mm: 2.0 });
    let index = refusal(|rows| rows[0].after = Medium::Constant(0.9));
    assert_eq!(index, PrescriptionError::Index { row: 1, index: 0.9 });
    let abbe = refusal(|rows| rows[0].after = Medium::patent(1.5, -3.0));
    assert_eq!(abbe, PrescriptionError::Abbe { row: 1, abbe: -3.0 });
    let aperture = refusal(|rows| rows[1].semi_aperture_mm = Some(0.0));
    assert_eq!(aperture, PrescriptionError::Aperture { row: 2, semi_aperture_mm: 0.0 });
    let beyond = refusal(|rows| rows[1].semi_aperture_mm = Some(50.5));
    assert_eq!(beyond, PrescriptionError::BeyondSurface { row: 2, semi_aperture_mm: 50.5 });
    assert_eq!(
        refusal(|rows| rows.iter_mut().for_each(|row| row.stop = true)),
        PrescriptionError::TwoStops { first: 1, second: 2 }
    );
    for spoil in [
        |rows: &mut Vec<Row>| rows[1].surface.curvature = f64::NAN,
        |rows: &mut Vec<Row>| rows[1].surface.conic = f64::INFINITY,
        |rows: &mut Vec<Row>| rows[1].surface.asphere[3] = f64::NAN,
        |rows: &mut Vec<Row>| rows[1].after = Medium::Constant(f64::NAN),
        |rows: &mut Vec<Row>| rows[1].after = Medium::patent(f64::NAN, 50.0),
        |rows: &mut Vec<Row>| rows[1].semi_aperture_mm = Some(f64::NAN),
    ] {
        assert!(matches!(refusal(spoil), PrescriptionError::NotFinite { row: 2, .. }));
    }
    assert!(matches!(refusal(|rows| rows[0].gap_mm = Some(f64::NAN)), PrescriptionError::NotFinite { row: 1, .. }));
    let before = Prescription::behind(Medium::Constant(0.5), singlet()).expect_err("thin");
    assert_eq!(before, PrescriptionError::Index { row: 0, index: 0.5 });
    for factor in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let scaled = Prescription::new(singlet()).unwrap().scaled(factor);
        assert!(matches!(scaled, Err(PrescriptionError::Scale { .. })));
    }
}

#[test]
fn surfaces_that_cross_within_their_apertures_are_refused() {
    assert!(matches!(
        refusal(|rows| rows[0].gap_mm = Some(-0.1)),
        PrescriptionError::Crossing { row: 1, height_mm: 0.0, .. }
    ));
    // Two radii of 50 and 5 mm of glass meet where both sags are 2.5: at √(50² − 47.5²) = 15.6.
    assert!(matches!(refusal(|rows| rows.iter_mut().for_each(|row| row.semi_aperture_mm = Some(16.0))),
        PrescriptionError::Crossing { row: 1, height_mm, .. } if height_mm > 15.5));
    let mut rows = singlet();
    rows.iter_mut().for_each(|row| row.semi_aperture_mm = Some(15.6));
    assert!(Prescription::new(rows).is_ok());
}

#[test]
fn a_stop_outside_its_gap_is_refused() {
    let lens = Prescription::new(singlet()).unwrap();
    for (row, distance_mm) in [(0, 1.0), (1, 5.1), (1, -0.1), (2, 1.0), (3, 0.0), (1, f64::NAN)] {
        let refused = lens.with_stop(row, distance_mm);
        assert!(matches!(refused, Err(PrescriptionError::StopOutside { row: at, .. }) if at == row));
    }
    let stopped = lens.with_stop(1, 2.0).unwrap();
    assert_eq!(stopped.stop(), Some(1));
    assert_close!(stopped.length_mm(), 5.0, absolute = 1e-15);
    // Another stop takes the first one's place.
    let moved = stopped.with_stop(2, 1.0).unwrap();
    assert_eq!((moved.stop(), moved.rows().len()), (Some(2), 4));
}

#[test]
fn wavelengths_that_glass_data_do_not_reach_are_refused() {
    for um in [0.2, 1.2, f64::NAN] {
        let WavelengthError { um: said } = Wavelength::from_um(um).expect_err("outside");
        assert!(said.to_bits() == um.to_bits());
    }
    assert_close!(Wavelength::from_um(0.55).unwrap().mm(), 5.5e-4, relative = 1e-15);
}

/// Axis-parallel rays at heights `ys`, and what becomes of each.
fn fates(rows: Vec<Row>, ys: &[f64], openings: Openings) -> Vec<Result<Ray, Lost>> {
    let lens = Prescription::new(rows).unwrap().at(Wavelength::D);
    let mut rays = Rays::new(ys.iter().map(|y| Ray { at: [0.0, *y, -5.0], toward: [0.0, 0.0, 1.0], path_mm: 0.0 }));
    lens.trace(&mut rays, openings);
    let all: Vec<_> = rays.iter().collect();
    assert_eq!(rays.losses().total(), all.iter().filter(|ray| ray.is_err()).count());
    all
}

#[test]
fn lost_rays_are_told_by_kind_and_row() {
    // Beyond the radius of a sphere there is nothing to meet.
    let missed = fates(singlet(), &[10.0, 51.0], Openings::Cut);
    assert!(missed[0].is_ok());
    assert_eq!(missed[1], Err(Lost { row: 0, why: Loss::Missed }));
    // Outside a clear diameter.
    let cut = fates(vec![Row::sphere(50.0, 5.0, GLASS), Row::last(-50.0).clear(8.0)], &[7.0, 12.0], Openings::Cut);
    assert!(cut[0].is_ok());
    assert_eq!(cut[1], Err(Lost { row: 1, why: Loss::Cut }));
    // The same only measured: it goes on.
    let measured = fates(vec![Row::sphere(50.0, 5.0, GLASS), Row::last(-50.0).clear(8.0)], &[12.0], Openings::Measure);
    assert!(measured[0].is_ok());
    // Out of glass 1.5 through a sphere of 10 mm beyond sin I = 1/1.5, that is y = 6.67, all light is reflected.
    let plano = vec![Row::sphere(f64::INFINITY, 10.0, GLASS), Row::last(-10.0)];
    let reflected = fates(plano, &[6.6, 6.7], Openings::Cut);
    assert!(reflected[0].is_ok());
    assert_eq!(reflected[1], Err(Lost { row: 1, why: Loss::Reflected }));
}

#[test]
fn an_asphere_that_no_ray_settles_on_is_a_counted_loss() {
    // An even term that makes a wall of the surface 10 mm out: slanting rays jump back and forth before it. The loss is
    // counted, and never a number that looks fine.
    let mut wall = Surface::PLANE;
    wall.asphere[7] = 1e-12;
    let lens = Prescription::new(vec![Row::new(wall, None, Medium::Air)]).unwrap().at(Wavelength::D);
    let slanting = (-20..20).map(|y| Ray { at: [0.0, f64::from(y), 0.0], toward: [0.0, 0.8, 0.6], path_mm: 0.0 });
    let mut rays = Rays::new(slanting);
    lens.trace(&mut rays, Openings::Cut);
    let all: Vec<_> = rays.iter().collect();
    assert!(all[20].is_ok(), "the ray through the vertex");
    assert!(all.contains(&Err(Lost { row: 0, why: Loss::Unsettled })), "{all:?}");
    assert_eq!(
        rays.losses().unsettled,
        all.iter().filter(|ray| matches!(ray, Err(Lost { why: Loss::Unsettled, .. }))).count()
    );
    for ray in all.into_iter().flatten() {
        assert!(ray.at.iter().chain(&ray.toward).all(|figure| figure.is_finite()));
    }
}

#[test]
fn fullness_tells_how_far_outside_a_ray_is() {
    let rows = vec![Row::sphere(50.0, 5.0, GLASS).clear(10.0), Row::last(-50.0)];
    let lens = Prescription::new(rows).unwrap().at(Wavelength::D);
    let start = |y: f64| Ray { at: [0.0, y, 0.0], toward: [0.0, 0.0, 1.0], path_mm: 0.0 };
    let mut rays = Rays::new([start(5.0), start(12.0), start(60.0)]);
    lens.trace(&mut rays, Openings::Measure);
    assert_close!(rays.fullness(0), 0.25, relative = 1e-14);
    assert_close!(rays.fullness(1), 1.44, relative = 1e-14);
    assert_close!(rays.fullness(2), f64::INFINITY, absolute = 0.0);
    assert_eq!((rays.len(), rays.is_empty()), (3, false));
}
