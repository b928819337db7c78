//! Rays that are drawn are the rays that are counted.

use rays::{Draw, SetUp, Wavelength, form};
use testkit::assert_close;

fn set_up() -> SetUp {
    let lens = form("double-gauss-1954").expect("in the library").scaled_to(85.0).expect("a size");
    SetUp { draw: Draw::Magnification { ratio: 0.5 }, ..SetUp::alone(lens, 8.0) }
}

/// A drawn ray ends on film where the fan says that it does, and passes the stop's plane at its share of the radius.
#[test]
fn lines_end_where_the_fan_has_them() {
    let system = set_up().system(Wavelength::D).expect("a system");
    let field = system.field_at_film(-20.0, Wavelength::D).expect("a place");
    let paths = system.paths(field, Wavelength::D, &[-1.0, 0.0, 1.0], 0.0).expect("rays");
    let fan = system.fan(field, Wavelength::D, 1).expect("a fan");
    for (path, ray) in paths.iter().zip(&fan.tangential) {
        let path = path.as_ref().expect("it gets through");
        let last = path.corners[path.corners.len() - 1];
        let Some(ray) = ray else {
            assert!(!path.passes, "the fan's ray was cut");
            continue;
        };
        assert_close!(last[1] - -20.0, ray.miss_mm[1], absolute = 1e-5);
        let at_stop = path.corners[1 + system.stop()];
        assert_close!(at_stop[1], path.stop * system.semi_diameter_mm(), absolute = 1e-4);
    }
    let chief = paths[1].as_ref().expect("the chief ray");
    assert_close!(chief.corners[0][1], field, absolute = 1e-9);
}

#[test]
fn a_far_subject_is_begun_where_it_was_asked_for() {
    let alone = SetUp { draw: Draw::Extension { mm: 0.0 }, ..set_up() };
    let system = alone.system(Wavelength::D).expect("a system");
    let paths = system.paths(0.1, Wavelength::D, &[0.0], 30.0).expect("rays");
    let corners = &paths[0].as_ref().expect("the chief ray").corners;
    assert_close!(corners[0][0], -30.0, absolute = 1e-12);
    // One tenth is the tangent of its angle.
    let rise = (corners[1][1] - corners[0][1]) / (corners[1][0] - corners[0][0]);
    assert_close!(rise, 0.1, absolute = 1e-9);
}
