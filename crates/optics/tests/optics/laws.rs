//! What must hold for any lens.

use crate::common::{Glass, Surface, alone, black_box, extended, figures, get, reversed_at, thin, thin_lens};
use optics::{BlackBox, Figure, RayMatrix, Train};
use proptest::prelude::*;
use testkit::assert_close;

type Matrix = RayMatrix<f64>;

fn entries(m: &Matrix) -> [f64; 4] {
    [m.a, m.b, m.c, m.d]
}

/// Equal within the rounding of the entries' products, lengths being up to some hundreds of mm.
fn assert_same(p: &Matrix, q: &Matrix) {
    for (p, q) in entries(p).into_iter().zip(entries(q)) {
        assert_close!(p, q, absolute = 1e-9 * (1.0 + q.abs()));
    }
}

fn part() -> impl Strategy<Value = Matrix> {
    prop_oneof![(-30.0..200.0f64).prop_map(Matrix::path), (-0.03..0.03f64).prop_map(Matrix::refraction)]
}

fn some_parts() -> impl Strategy<Value = Vec<Matrix>> {
    proptest::collection::vec(part(), 0..6)
}

/// One after the other, the light meeting the first one first.
fn product(parts: &[Matrix]) -> Matrix {
    parts.iter().fold(Matrix::identity(), |sum, part| part.after(sum))
}

/// A positive lens of two thin groups with its stop between them.
fn two_groups() -> impl Strategy<Value = Glass> {
    let focal = prop_oneof![40.0..400.0f64, -600.0..-150.0f64];
    let lens = (focal.clone(), focal, 1.0..30.0f64, 1.0..30.0f64).prop_map(|(front, rear, to_stop, from_stop)| {
        let group = |focal: f64, thickness| Surface { power: 1.0 / focal, thickness, index: 1.0 };
        let stop = Surface { power: 0.0, thickness: from_stop, index: 1.0 };
        Glass { surfaces: vec![group(front, to_stop), stop, group(rear, 0.0)], stop: 1 }
    });
    lens.prop_filter("a camera lens has a positive focal length, and its film behind it", |glass| {
        let points = glass.cardinal();
        (30.0..500.0).contains(&points.focal_length) && points.back_focus > 5.0
    })
}

/// Half the stop's own width at a marked f-number.
fn stop_radius(glass: &Glass, f_number: f64) -> f64 {
    let points = glass.cardinal();
    points.focal_length / f_number / points.entrance_size / 2.0
}

proptest! {
    #[test]
    fn every_train_of_parts_has_determinant_one(parts in some_parts()) {
        let whole = product(&parts);
        let size = entries(&whole).map(f64::abs);
        assert_close!(whole.determinant(), 1.0, absolute = 1e-12 * (1.0 + size[0] * size[3] + size[1] * size[2]));
    }

    #[test]
    fn composing_is_associative(p in some_parts(), q in some_parts(), r in some_parts()) {
        let (p, q, r) = (product(&p), product(&q), product(&r));
        assert_same(&r.after(q).after(p), &r.after(q.after(p)));
    }

    #[test]
    fn reversing(p in some_parts(), q in some_parts()) {
        let mut turned: Vec<_> = p.iter().chain(&q).copied().collect();
        turned.reverse();
        let whole = product(&q).after(product(&p));
        prop_assert_eq!(whole.reversed().reversed(), whole);
        // Turning the whole round is turning every part round and taking them in the other order.
        assert_same(&whole.reversed(), &product(&turned));
        assert_same(&whole.undone().after(whole), &Matrix::identity());
    }

    #[test]
    fn the_law_of_extension(f in 20.0..500.0f64, t in -30.0..60.0f64, e in 0.5..400.0f64, p in 0.4..2.5f64) {
        // m = e/f, subject to H f(1 + 1/m), H' to film f(1 + m) for any thick lens (Jacobson, *Photographic Lenses FAQ*,
        // 1995, Q4-Q5).
        let lens = BlackBox { separation: t, length: 50.0, register: 74.0, ..thin_lens(f, 8.0, p) };
        let got = figures(&extended(&lens, e), 8.0, 0.05);
        let m = e / f;
        assert_close!(get(&got, Figure::Magnification), m, relative = 1e-12);
        assert_close!(get(&got, Figure::SubjectToFilm), f * (2.0 + m + 1.0 / m) + t, relative = 1e-11);
        assert_close!(get(&got, Figure::EffectiveFNumber), 8.0 * (1.0 + m / p), relative = 1e-11);
    }

    #[test]
    fn the_light_is_the_traced_marginal_rays(glass in two_groups(), m in 0.05..4.0f64, n in 1.4..32.0f64) {
        let points = glass.cardinal();
        let in_front = points.focal_length / m - points.front_focus;
        let edge = glass.edge_ray(in_front, points.back_focus + m * points.focal_length, stop_radius(&glass, n));
        let train = extended(&black_box(&glass, n), m * points.focal_length);
        let got = figures(&train, n, 0.05);
        assert_close!(get(&got, Figure::EffectiveFNumber), 0.5 / edge.angle.abs(), relative = 1e-9);
        assert_close!(get(&got, Figure::WorkingDistance), in_front, relative = 1e-9, "subject");
    }

    #[test]
    fn the_limits_of_depth_are_blurred_to_the_disc_of_confusion(
        glass in two_groups(), m in 0.05..4.0f64, n in 2.8..32.0f64, reversed in any::<bool>(),
    ) {
        let blur = 0.05;
        let lens = black_box(&glass, n);
        let way = if reversed { glass.reversed() } else { glass.clone() };
        let points = way.cardinal();
        let behind = points.back_focus + m * points.focal_length;
        let in_front = points.focal_length / m - points.front_focus;
        let train = if reversed { reversed_at(&lens, m) } else { extended(&lens, m * points.focal_length) };
        let got = figures(&train, n, blur);
        let disc = |in_front: f64| 2.0 * way.edge_ray(in_front, behind, stop_radius(&glass, n)).height.abs();
        assert_close!(disc(in_front), 0.0, absolute = 1e-9);
        if let Some(near) = got.get(Figure::DepthNear) {
            assert_close!(disc(in_front - near), blur, relative = 1e-7, "near limit");
        }
        match got.get(Figure::DepthFar) {
            Some(far) => assert_close!(disc(in_front + far), blur, relative = 1e-6, "far limit"),
            // However far away: never more than the disc.
            None => prop_assert!(disc(1e9) <= blur * (1.0 + 1e-6)),
        }
    }

    #[test]
    fn a_reversed_lens_has_the_inverse_pupil_ratio(f in 20.0..300.0f64, p in 0.4..2.5f64, m in 0.1..5.0f64) {
        // Entrance pupil over exit pupil, each from the cone it makes over its own distance: the cone at the subject is
        // m times as steep as the one at the film.
        let lens = BlackBox { separation: 7.0, length: 40.0, register: 80.0, ..thin_lens(f, 4.0, p) };
        let train = reversed_at(&lens, m);
        let image = train.image().unwrap();
        let entrance = 2.0 * image.film_slope * image.magnification / image.inverse_pupil_distance;
        let exit = 2.0 * image.film_slope * train.stops[0].position;
        assert_close!(exit / entrance, 1.0 / p, relative = 1e-9);
        let normal = extended(&lens, m * f);
        let image = normal.image().unwrap();
        let entrance = 2.0 * image.film_slope * image.magnification / image.inverse_pupil_distance;
        let exit = 2.0 * image.film_slope * normal.stops[0].position;
        assert_close!(exit / entrance, p, relative = 1e-9);
    }

    #[test]
    fn coupling_the_other_way_round_gives_the_inverse_magnification(
        (fa, fb) in (20.0..300.0f64, 20.0..300.0f64), (ta, tb) in (-20.0..20.0f64, -20.0..20.0f64), gap in 0.0..80.0f64,
    ) {
        // A on the body and B turned round before it, both at infinity: m = fA/fB whatever planes and gap, with the subject
        // where B would have its film (Ray, *Applied Photographic Optics*, from memory); B on A is the inverse.
        let lens = |f: f64, t: f64| BlackBox { separation: t, length: 40.0, register: f + 7.0, ..thin_lens(f, 4.0, 1.0) };
        let coupled = |on_body: BlackBox<f64>, turned: BlackBox<f64>| {
            let a = on_body.seated(on_body.register, 0.0, 0);
            let b = turned.reversed(a.front + gap, 0.0, 1);
            let train = Train { elements: vec![a.element, b.element], stops: vec![a.stop, b.stop], front: b.front };
            let got = figures(&train, 4.0, 0.05);
            assert_close!(get(&got, Figure::WorkingDistance), turned.register, relative = 1e-9);
            get(&got, Figure::Magnification)
        };
        let (a, b) = (lens(fa, ta), lens(fb, tb));
        assert_close!(coupled(a, b), fa / fb, relative = 1e-11);
        assert_close!(coupled(a, b) * coupled(b, a), 1.0, relative = 1e-11);
    }

    #[test]
    fn a_set_up_turned_round_as_a_whole_swaps_subject_and_film(p in two_groups(), m in 0.05..4.0f64) {
        // Between conjugate planes b is nothing and a·d = 1: turned round, a is the inverse.
        let train = extended(&black_box(&p, 8.0), m * p.cardinal().focal_length);
        let subject = train.image().unwrap().subject.unwrap();
        let outermost = train.elements[0].front;
        let whole = train.matrix().unwrap().after(Matrix::path(subject - outermost));
        assert_close!(whole.b, 0.0, absolute = 1e-8 * (1.0 + subject));
        assert_close!(whole.a, -m, relative = 1e-9);
        assert_close!(whole.reversed().a, -1.0 / m, relative = 1e-9);
    }

    #[test]
    fn a_close_up_lens_on_a_lens_at_infinity_costs_no_light(
        f in 20.0..300.0f64, p in 0.4..2.5f64, n in 1.4..32.0f64, dioptres in 0.25..20.0f64, gap in 0.0..60.0f64,
    ) {
        let mut train = extended(&thin_lens(f, n, p), 0.0);
        train.front = f + gap;
        train.elements.push(thin(dioptres / 1000.0, train.front));
        let got = figures(&train, n, 0.05);
        assert_close!(get(&got, Figure::ExposureStops), 0.0, absolute = 1e-11);
        assert_close!(get(&got, Figure::Magnification), f * dioptres / 1000.0, relative = 1e-11);
        assert_close!(get(&got, Figure::WorkingDistance), 1000.0 / dioptres, relative = 1e-9);
    }

    #[test]
    fn life_size_costs_two_stops_with_a_symmetrical_lens(f in 20.0..300.0f64, n in 1.4..32.0f64, t in -20.0..20.0f64) {
        let lens = BlackBox { separation: t, ..thin_lens(f, n, 1.0) };
        for train in [extended(&lens, f), reversed_at(&lens, 1.0)] {
            let got = figures(&train, n, 0.05);
            assert_close!(get(&got, Figure::ExposureStops), 2.0, absolute = 1e-11);
            assert_close!(get(&got, Figure::Magnification), 1.0, relative = 1e-11);
        }
    }

    #[test]
    fn a_symmetrical_lens_does_not_know_which_way_it_looks(f in 20.0..300.0f64, t in -20.0..20.0f64, m in 0.1..5.0f64) {
        // The rim as far from H as the seat from H': turning it changes nothing.
        let register = 80.0;
        let lens = BlackBox { separation: t, length: 2.0 * (f - register) + t, register, ..thin_lens(f, 5.6, 1.0) };
        let (normal, turned) = (figures(&extended(&lens, m * f), 5.6, 0.05), figures(&reversed_at(&lens, m), 5.6, 0.05));
        for figure in Figure::ALL {
            match (normal.get(figure), turned.get(figure)) {
                (Some(p), Some(q)) => assert_close!(p, q, absolute = 1e-8 * (1.0 + q.abs()), "{}", figure.label()),
                (p, q) => prop_assert_eq!(p, q),
            }
        }
    }

    #[test]
    fn travel_of_a_reversed_lens_moves_its_seat_alone(x in 0.0..40.0f64, rim in 60.0..200.0f64) {
        let lens = BlackBox { separation: 4.0, length: 68.0, register: 80.0, ..thin_lens(90.0, 2.8, 0.92) };
        let (still, moved) = (alone(&lens.reversed(rim, 0.0, 0)), alone(&lens.reversed(rim, x, 0)));
        prop_assert_eq!(&still.elements, &moved.elements);
        prop_assert_eq!(&still.stops, &moved.stops);
        assert_close!(moved.front, still.front + x, relative = 1e-12);
    }
}

#[test]
fn at_infinity_nothing_is_lost_and_nothing_is_near() {
    let got = figures(&extended(&thin_lens(80.0, 2.8, 0.9), 0.0), 2.8, 0.05);
    assert_close!(get(&got, Figure::Magnification), 0.0, absolute = 0.0);
    assert_close!(get(&got, Figure::EffectiveFNumber), 2.8, relative = 1e-13);
    assert_close!(get(&got, Figure::ExposureStops), 0.0, absolute = 1e-13);
    let infinite = [Figure::SubjectToFilm, Figure::WorkingDistance, Figure::FieldWidth, Figure::DepthOfField];
    for figure in infinite {
        assert_eq!(got.get(figure), None, "{}", figure.label());
    }
}
