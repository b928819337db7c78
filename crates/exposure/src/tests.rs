use super::*;
use testkit::assert_close;

const SPEEDS: [f64; 10] =
    [1.0, 0.5, 0.25, 0.125, 1.0 / 15.0, 1.0 / 30.0, 1.0 / 60.0, 1.0 / 125.0, 1.0 / 250.0, 1.0 / 500.0];

fn question(metered_s: f64, stops: f64) -> Question<'static> {
    Question {
        metered_s,
        metered_f_number: 16.0,
        f_number: 16.0,
        extension_stops: Estimate { value: stops, plus_minus: 0.1 },
        filter_stops: 0.0,
        shutter_s: &SPEEDS,
        bulb: false,
    }
}

#[test]
fn published_bellows_example() {
    // U.S. Army correspondence course SS0512: a 12 in lens on 18 in of bellows has factor 2.25, and 8 s become 18 s.
    let answer = expose(&question(8.0, 2.25f64.log2())).unwrap();
    assert_close!(answer.time_s.value, 18.0, relative = 1e-12);
}

#[test]
fn published_product_example() {
    // Langford, Basic Photography, appendix: 10 cm object, 5 cm on film, 1/2 s at f/16 by the meter: ×2¼, "in
    // practice 1 s"; exactly 1.125 s.
    let answer = expose(&question(0.5, 2.25f64.log2())).unwrap();
    assert_close!(answer.time_s.value, 1.125, relative = 1e-12);
    assert_eq!(answer.set_s, Some(1.0));
    assert_close!(answer.set_error_stops.unwrap().value, (1.0f64 / 1.125).log2(), relative = 1e-12);
}

#[test]
fn filter_factor_eight_is_three_stops() {
    // Kodak F-4016, October 2007, p. 5: a No. 25 filter in daylight takes 3 stops, factor 8.
    let answer = expose(&Question { filter_stops: 3.0, ..question(0.5, 2.25f64.log2()) }).unwrap();
    assert_close!(answer.time_s.value, 9.0, relative = 1e-12);
    assert!(answer.remarks.contains(&Remark::LongExposure));
}

#[test]
fn stopping_down_by_two_stops_makes_four_times_the_time() {
    let answer = expose(&Question { f_number: 32.0, ..question(1.0 / 60.0, 0.0) }).unwrap();
    assert_close!(answer.time_s.value, 4.0 / 60.0, relative = 1e-12);
    assert_close!(answer.aperture_stops, 2.0, relative = 1e-12);
}

#[test]
fn nearest_means_nearest_in_stops() {
    // 0.36 s lies nearer to 0.25 s in seconds, but nearer to 0.5 s in stops (geometric middle 0.3536 s).
    let answer = expose(&question(0.36, 0.0)).unwrap();
    assert_eq!(answer.set_s, Some(0.5));
    assert!(answer.remarks.iter().any(|remark| matches!(remark, Remark::FarOff { .. })));
}

#[test]
fn the_uncertainty_of_the_light_lost_reaches_the_time() {
    let answer = expose(&question(1.0, 1.0)).unwrap();
    // Derivative of 2^x at 1 is 2 ln 2.
    assert_close!(answer.time_s.plus_minus, 0.1 * 2.0 * std::f64::consts::LN_2, relative = 1e-12);
}

#[test]
fn figures_that_cannot_be_are_refused() {
    for metered in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(expose(&question(metered, 0.0)).is_err());
    }
    assert!(expose(&Question { filter_stops: -1.0, ..question(1.0, 0.0) }).is_err());
    assert!(expose(&Question { metered_f_number: 0.0, ..question(1.0, 0.0) }).is_err());
}

#[test]
fn flash_by_guide_number() {
    // Guide number 28 m at ISO 100, ISO 400, 0.4 m, life size with a symmetrical lens, filter factor 2: 28·√2/(0.4·2) (own
    // calculation from the inverse-square law).
    let flash = Flash {
        guide_number_m: 28.0,
        guide_iso: 100.0,
        iso: 400.0,
        distance_m: 0.4,
        f_number_factor: 2.0,
        filter_factor: 2.0,
    };
    assert_close!(flash.f_number().unwrap(), 49.497_474_683_058_314, relative = 1e-12);
    assert_eq!(Flash { distance_m: 0.0, ..flash }.f_number(), None);
    assert_eq!(Flash { iso: f64::NAN, ..flash }.f_number(), None);
}

#[test]
fn guide_numbers_of_a_film_makers_sheet() {
    // Kodak E-4L (Pro Image 100), page 2, ISO 100: BCPS and guide number in feet, rounded there to the printed figure.
    let sheet = [
        (350.0, 40.0),
        (500.0, 50.0),
        (700.0, 60.0),
        (1000.0, 70.0),
        (1400.0, 85.0),
        (2000.0, 100.0),
        (2800.0, 120.0),
        (4000.0, 140.0),
        (5600.0, 170.0),
        (8000.0, 200.0),
    ];
    for (bcps, feet) in sheet {
        assert_close!(guide_number_feet(100.0, bcps), feet, relative = 0.05, "{bcps}");
    }
}
