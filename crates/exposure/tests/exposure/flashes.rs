//! Flash: closed forms, a film maker's table, and what cannot be.

use exposure::{Flash, FlashRemark, Lamp, Power, Strength, guide_number_feet, metres};
use film::shipped;
use optics::Estimate;
use testkit::assert_close;

fn lamp(metres: f64, distance_m: f64) -> Lamp {
    Lamp { strength: Strength::GuideNumber { metres, iso: 100.0 }, power: 1.0, distance_m, reflector_m: Some(0.02) }
}

fn flash(lamps: Vec<Lamp>) -> Flash<'static> {
    Flash {
        power: Power::Lamps(lamps),
        iso: 100.0,
        extension_stops: Estimate::exact(0.0),
        filter_stops: Estimate::exact(0.0),
        burns_s: None,
        film: None,
        f_number: 16.0,
    }
}

#[test]
fn the_guide_number_law() {
    // Inverse square, own calculation: 28 m, ISO 400, 0.4 m, life size with a symmetrical lens (2 stops), filter factor 2: 28·2/(0.4·2·√2).
    let found = Flash {
        iso: 400.0,
        extension_stops: Estimate::exact(2.0),
        filter_stops: Estimate::exact(1.0),
        ..flash(vec![lamp(28.0, 0.4)])
    };
    let answer = found.answer().unwrap();
    assert_close!(answer.f_number.value, 49.497_474_683_058_314, relative = 1e-12);
    // At f/16 that is too much by 2·log₂(49.5/16); the flash stands right at 0.4·49.5/16 m, or with so much less power.
    let stops = 2.0 * (49.497_474_683_058_314f64 / 16.0).log2();
    assert_close!(answer.error_stops.value, stops, relative = 1e-12);
    assert_close!(answer.distance_m.unwrap().value, 0.4 * 49.497_474_683_058_314 / 16.0, relative = 1e-12);
    assert_close!(answer.power, (-stops).exp2(), relative = 1e-12);
    let nearer = Flash { power: Power::Lamps(vec![lamp(28.0, answer.distance_m.unwrap().value)]), ..found };
    assert_close!(nearer.answer().unwrap().f_number.value, 16.0, relative = 1e-12);
}

#[test]
fn guide_numbers_of_a_film_makers_sheet() {
    // Kodak E-4L (Pro Image 100), p. 2, ISO 100: BCPS and guide number in metres and feet, rounded there.
    let sheet = [
        (350.0, 12.0, 40.0),
        (500.0, 15.0, 50.0),
        (700.0, 18.0, 60.0),
        (1000.0, 21.0, 70.0),
        (1400.0, 26.0, 85.0),
        (2000.0, 30.0, 100.0),
        (2800.0, 36.0, 120.0),
        (4000.0, 42.0, 140.0),
        (5600.0, 50.0, 170.0),
        (8000.0, 60.0, 200.0),
    ];
    for (bcps, in_metres, feet) in sheet {
        assert_close!(guide_number_feet(100.0, bcps), feet, relative = 0.05, "{bcps}");
        assert_close!(metres(guide_number_feet(100.0, bcps)), in_metres, relative = 0.08, "{bcps}");
        let at_one_metre = flash(vec![Lamp { strength: Strength::Bcps(bcps), ..lamp(1.0, 1.0) }]);
        assert_close!(
            at_one_metre.answer().unwrap().f_number.value,
            metres(guide_number_feet(100.0, bcps)),
            relative = 1e-12
        );
    }
}

#[test]
fn feet_are_not_metres() {
    // International yard and pound agreement, 1959. A guide number of 92 ft taken as metres would be off by 2·log₂(1/0.3048) = 3.4 stops.
    assert_close!(metres(92.0), 28.0416, relative = 1e-12);
    let (feet, mistaken) = (flash(vec![lamp(metres(92.0), 1.0)]), flash(vec![lamp(92.0, 1.0)]));
    let apart = mistaken.answer().unwrap().error_stops.value - feet.answer().unwrap().error_stops.value;
    assert_close!(apart, -2.0 * 0.3048f64.log2(), relative = 1e-12);
}

#[test]
fn light_of_two_lamps_adds() {
    // Two alike make a stop more; one of twice the distance adds a quarter of the light and is two stops weaker.
    let one = flash(vec![lamp(20.0, 1.0)]).answer().unwrap();
    let two = flash(vec![lamp(20.0, 1.0), lamp(20.0, 1.0)]).answer().unwrap();
    assert_close!(two.error_stops.value - one.error_stops.value, 1.0, relative = 1e-12);
    assert_close!(two.ratio_stops.unwrap(), 0.0, absolute = 1e-12);
    assert_eq!(one.ratio_stops, None);
    let farther = flash(vec![lamp(20.0, 1.0), lamp(20.0, 2.0)]).answer().unwrap();
    assert_close!(farther.error_stops.value - one.error_stops.value, 1.25f64.log2(), relative = 1e-12);
    assert_close!(farther.ratio_stops.unwrap(), 2.0, relative = 1e-12);
    // A quarter of the power is two stops.
    let quarter = flash(vec![Lamp { power: 0.25, ..lamp(20.0, 1.0) }]).answer().unwrap();
    assert_close!(quarter.error_stops.value - one.error_stops.value, -2.0, relative = 1e-12);
}

#[test]
fn a_flash_meter_knows_all_but_the_set_up() {
    // It says f/22 for ISO 100; a stop of speed more and three stops lost leave f/22·2^(−1).
    let metered = Flash {
        power: Power::Metered { f_number: 22.0, iso: 100.0 },
        iso: 200.0,
        extension_stops: Estimate::exact(3.0),
        ..flash(vec![])
    };
    let answer = metered.answer().unwrap();
    assert_close!(answer.f_number.value, 11.0, relative = 1e-12);
    assert_close!(answer.error_stops.value, 2.0 * (11.0f64 / 16.0).log2(), relative = 1e-12);
    assert_eq!((answer.distance_m, answer.ratio_stops), (None, None));
    assert_close!(answer.error_stops.plus_minus, 1.0 / 6.0, relative = 1e-12);
}

#[test]
fn doubts_of_guide_number_distance_and_extension_add() {
    // By hand, first order: N ∝ GN/d: 5 % of the one and 5 mm of 0.5 m are 2/ln 2 times as many stops; the extension's 0.1 beside them.
    let answer = Flash { extension_stops: Estimate { value: 1.0, plus_minus: 0.1 }, ..flash(vec![lamp(20.0, 0.5)]) }
        .answer()
        .unwrap();
    let share = 2.0 / std::f64::consts::LN_2;
    assert_close!(answer.error_stops.plus_minus, (share * 0.05).hypot(share * 0.01).hypot(0.1), relative = 1e-9);
}

#[test]
fn near_the_reflector_guide_numbers_are_not_believed() {
    let remarks =
        |reflector_m, distance_m| flash(vec![Lamp { reflector_m, ..lamp(20.0, distance_m) }]).answer().unwrap().remarks;
    let near = remarks(Some(0.07), 0.4);
    let told = near[0].to_string();
    assert!(matches!(near[0], FlashRemark::TooNear { .. }));
    assert!(
        told.contains("overstate")
            && told.contains("flash meter")
            && told.contains("test frame")
            && told.contains("0.7 m"),
        "{told}"
    );
    assert_eq!(remarks(Some(0.07), 0.71), []);
    let perhaps = remarks(None, 0.4);
    assert!(perhaps[0].to_string().contains("wider than 40 mm"), "{}", perhaps[0]);
    assert_eq!(remarks(None, 2.0), []);
    let second =
        flash(vec![lamp(20.0, 1.0), Lamp { reflector_m: Some(0.1), ..lamp(20.0, 0.5) }]).answer().unwrap().remarks;
    assert!(second[0].to_string().starts_with("flash 2: "), "{}", second[0]);
}

#[test]
fn film_loses_nothing_in_a_flash_unless_it_is_published() {
    let with = |id: &str, burns_s| {
        Flash { film: shipped().film(id), burns_s, ..flash(vec![lamp(20.0, 1.0)]) }.answer().unwrap()
    };
    // Kodak F-4016, October 2007, p. 5: T-MAX 100 wants 1/3 stop at 1/10,000 s, none at 1/1000 s; T-MAX 400 none at either.
    assert_close!(with("t-max-100", Some(1e-4)).short_loss_stops.value, 1.0 / 3.0, relative = 1e-12);
    assert_close!(with("t-max-100", Some(1e-3)).short_loss_stops.value, 0.0, absolute = 1e-12);
    let plain = with("t-max-100", None);
    assert_close!(plain.short_loss_stops.value, 0.0, absolute = 0.0);
    assert!(plain.remarks[0].to_string().contains("1/3 stop in an exposure of 1/10000 s"), "{:?}", plain.remarks);
    assert_close!(
        with("t-max-100", Some(1e-4)).error_stops.value,
        plain.error_stops.value - 1.0 / 3.0,
        relative = 1e-9
    );
    for id in ["t-max-400", "hp5-plus", "apx-100", "ektar-100"] {
        for burns in [1e-3, 1e-4, 2e-5] {
            assert_close!(with(id, Some(burns)).short_loss_stops.value, 0.0, absolute = 0.0, "{id}");
        }
        assert_eq!(with(id, None).remarks, [], "{id}");
    }
}

#[test]
fn flashes_that_cannot_be() {
    let told = |flash: Flash<'_>| flash.answer().unwrap_err().to_string();
    let one = |lamp: Lamp| told(flash(vec![lamp]));
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(one(lamp(bad, 1.0)).contains("the guide number must be above 0"));
        assert!(one(lamp(20.0, bad)).contains("the distance from flash to subject must be above 0"));
        assert!(one(Lamp { power: bad, ..lamp(20.0, 1.0) }).contains("share of the flash's power"));
        assert!(one(Lamp { reflector_m: Some(bad), ..lamp(20.0, 1.0) }).contains("reflector's width"));
        assert!(one(Lamp { strength: Strength::Bcps(bad), ..lamp(20.0, 1.0) }).contains("beam candlepower"));
        assert!(
            one(Lamp { strength: Strength::GuideNumber { metres: 20.0, iso: bad }, ..lamp(20.0, 1.0) })
                .contains("stated for")
        );
        assert!(told(Flash { iso: bad, ..flash(vec![lamp(20.0, 1.0)]) }).contains("the film's speed"));
        assert!(told(Flash { f_number: bad, ..flash(vec![lamp(20.0, 1.0)]) }).contains("the f-number"));
        assert!(told(Flash { burns_s: Some(bad), ..flash(vec![lamp(20.0, 1.0)]) }).contains("burning time"));
        assert!(
            told(Flash { power: Power::Metered { f_number: bad, iso: 100.0 }, ..flash(vec![]) })
                .contains("flash meter's f-number")
        );
        assert!(
            told(Flash { power: Power::Metered { f_number: 8.0, iso: bad }, ..flash(vec![]) })
                .contains("meter is set to")
        );
    }
    assert!(one(Lamp { power: 2.0, ..lamp(20.0, 1.0) }).contains("at most 1"));
    assert!(
        told(Flash { extension_stops: Estimate::exact(f64::NAN), ..flash(vec![lamp(20.0, 1.0)]) }).contains("set-up")
    );
    assert!(told(flash(vec![])).contains("not 0") && told(flash(vec![lamp(1.0, 1.0); 3])).contains("not 3"));
}
