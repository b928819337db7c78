//! Aperture rings.

use planning::test_roll::{AperturesAsked, Ring, apertures};
use proptest::prelude::*;
use testkit::assert_close;

fn ring(factor: f64, widest: f64, closed: f64) -> Ring {
    Ring { factor, f_numbers: [widest, closed], click_stops: 0.5 }
}

#[test]
fn engraved_figures_mean_powers_of_root_two() {
    // F20: 5.6, 11 and 22 are rounded from 5.657, 11.314 and 22.627.
    let ring = ring(1.0, 2.8, 32.0);
    for (effective, engraved, exact) in [
        (5.7, 5.6, 5.656_854_249_492),
        (11.0, 11.0, 11.313_708_498_985),
        (22.0, 22.0, 22.627_416_997_970),
        (9.4, 9.5, 9.513_656_920_022),
    ] {
        let found = ring.nearest(effective).unwrap();
        assert_eq!(found.engraved, engraved);
        assert_close!(found.effective, exact, relative = 1e-9);
    }
}

#[test]
fn light_lost_moves_the_ring() {
    // At life size with a pupil ratio of 1, effective is twice engraved (F6): effective f/22.6 is f/11 on the ring.
    let found = ring(2.0, 2.8, 22.0).nearest(22.6).unwrap();
    assert_eq!(found.engraved, 11.0);
    assert_close!(found.off_stops, 2.0 * (22.627_416_997_970f64 / 22.6).log2(), absolute = 1e-9);
}

#[test]
fn an_end_of_the_ring_is_its_end() {
    // Widest f/3.5 is no click of the series; a quarter stop off it serves, half a stop past it does not.
    let ring = ring(1.0, 3.5, 22.0);
    assert_eq!(ring.nearest(3.4).unwrap().engraved, 3.5);
    assert_eq!(ring.nearest(2.8), None);
    assert_eq!(ring.nearest(45.0), None);
    assert_eq!(ring.nearest(24.0).unwrap().engraved, 22.0);
}

#[test]
fn whole_stops_around_the_best() {
    let (found, missed) = apertures(&[ring(1.5, 2.8, 32.0), ring(1.5, 4.0, 32.0)], 16.0, &AperturesAsked::Around(3));
    let stops: Vec<_> = found.iter().map(|aperture| aperture.stops_from_best).collect();
    assert_eq!(stops, [Some(0), Some(-1), Some(1)]);
    assert_close!(found[1].effective * 2f64.sqrt(), found[0].effective, relative = 1e-12);
    // Both rings have a factor of 1.5, so the row moves onto their clicks: nothing is off.
    assert_close!(found[0].mismatch_stops(), 0.0, absolute = 1e-9);
    assert!(missed.is_empty());
}

#[test]
fn an_aperture_that_only_one_has_is_left_out() {
    let (found, missed) =
        apertures(&[ring(1.0, 2.8, 22.0), ring(1.0, 2.8, 45.0)], 1.0, &AperturesAsked::These(vec![32.0, 16.0]));
    assert_eq!(found.len(), 1);
    assert_close!(found[0].effective, 16.0, relative = 1e-12);
    assert!(missed[0].left_out && missed[0].members == [0]);
}

#[test]
fn an_aperture_that_one_of_three_lacks_is_compared_without_it() {
    let rings = [ring(1.0, 2.8, 22.0), ring(1.0, 2.8, 45.0), ring(1.0, 4.0, 32.0)];
    let (found, missed) = apertures(&rings, 1.0, &AperturesAsked::These(vec![32.0]));
    assert_eq!(found[0].settings.iter().map(Option::is_some).collect::<Vec<_>>(), [false, true, true]);
    assert!(!missed[0].left_out);
}

proptest! {
    #[test]
    fn no_setting_is_off_by_more_than_half_a_click(
        factor in 1.0..4.0f64, click in prop::sample::select(vec![1.0 / 3.0, 0.5, 1.0]), effective in 2.0..100.0f64,
    ) {
        let ring = Ring { factor, f_numbers: [2.8, 32.0], click_stops: click };
        let [widest, closed] = ring.effective();
        match ring.nearest(effective) {
            Some(found) => {
                prop_assert!(found.off_stops.abs() <= 0.5 * click + 1e-9);
                let off = 2.0 * (found.effective / effective).log2();
                prop_assert!((off - found.off_stops).abs() < 1e-9);
                prop_assert!(found.effective >= widest * 0.999 && found.effective <= closed * 1.001);
            }
            None => prop_assert!(effective < widest || effective > closed, "only past an end: {effective}"),
        }
    }
}
