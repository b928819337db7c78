//! Movement and shake.

use exposure::{Mirror, Movement, Shake, shake};
use optics::Estimate;
use testkit::assert_close;

fn movement(m: f64, time_s: f64, speed_mm_s: f64) -> Movement {
    Movement { magnification: Estimate { value: m, plus_minus: 0.05 * m }, time_s, speed_mm_s, allowed_um: 50.0 }
}

#[test]
fn smear_is_magnification_times_speed_times_time() {
    // Own calculation: half size, 1/4 s, 0.8 mm/s: 0.5·0.25·0.8 mm = 100 µm; 125 µm for each mm/s.
    let swept = movement(0.5, 0.25, 0.8).swept().unwrap();
    assert_close!(swept.um_per_mm_s.value, 125.0, relative = 1e-12);
    assert_close!(swept.smear_um.value, 100.0, relative = 1e-12);
    assert_close!(swept.smear_um.plus_minus, 5.0, relative = 1e-12);
    // 50 µm allow half the time: a stop is missing.
    assert_close!(swept.slowest_s.unwrap(), 0.125, relative = 1e-12);
    assert_close!(swept.short_of_stops.unwrap(), 1.0, relative = 1e-12);
    let kept = movement(0.5, swept.slowest_s.unwrap(), 0.8).swept().unwrap();
    assert_close!(kept.smear_um.value, 50.0, relative = 1e-12);
}

#[test]
fn what_stands_still_may_be_exposed_for_ever() {
    assert_eq!(movement(0.5, 1.0, 0.0).swept().unwrap().slowest_s, None);
    assert_eq!(movement(0.0, 1.0, 3.0).swept().unwrap().slowest_s, None);
    for bad in [f64::NAN, f64::INFINITY, -1.0] {
        assert_eq!(movement(0.5, bad, 1.0).swept(), None);
        assert_eq!(movement(0.5, 1.0, bad).swept(), None);
        assert_eq!(movement(bad, 1.0, 1.0).swept(), None);
        assert_eq!(Movement { allowed_um: bad, ..movement(0.5, 1.0, 1.0) }.swept(), None);
    }
    assert_eq!(movement(0.5, 0.0, 1.0).swept(), None);
    assert_eq!(Movement { allowed_um: 0.0, ..movement(0.5, 1.0, 1.0) }.swept(), None);
}

#[test]
fn shake_is_warned_of_where_it_is_worst() {
    // Common practice, no source: roughly 1/2 to 1/30 s.
    for time in [0.5, 0.25, 0.125, 1.0 / 15.0, 1.0 / 30.0, 1.0 / 32.0] {
        assert_eq!(shake(time, Mirror::Swings, false), Some(Shake::Mirror { known: true }), "{time}");
        assert_eq!(
            shake(time, Mirror::Unknown, true),
            Some(Shake::Mirror { known: false }),
            "a leaf shutter has a mirror behind it"
        );
        assert_eq!(shake(time, Mirror::None, false), Some(Shake::Shutter));
        assert_eq!(shake(time, Mirror::None, true), None);
    }
    for time in [1.0, 2.0, 1.0 / 60.0, 0.001] {
        assert_eq!(shake(time, Mirror::Swings, false), None, "{time}");
    }
    assert!(shake(0.25, Mirror::Unknown, false).unwrap().to_string().contains("does not say"));
}
