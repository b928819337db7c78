//! From the meter's reading to the shutter: closed forms, published examples, and the uncertainty of the time.

use exposure::{Question, Reading, Remark, Stage, expose};
use optics::Estimate;
use testkit::assert_close;

const SPEEDS: [f64; 6] = [1.0, 0.5, 0.25, 0.125, 0.0625, 0.03125];

/// f/16 throughout, nothing lost.
fn plain(metered_s: f64) -> Question<'static> {
    Question {
        metered_s,
        metered_f_number: 16.0,
        reading: Reading::Incident,
        reading_doubt_stops: 0.0,
        f_number: 16.0,
        extension_stops: Estimate::exact(0.0),
        filter_stops: Estimate::exact(0.0),
        film: None,
        shutter_s: &SPEEDS,
        bulb: false,
    }
}

fn lost(stops: f64, plus_minus: f64) -> Estimate {
    Estimate { value: stops, plus_minus }
}

#[test]
fn published_examples() {
    // U.S. Army correspondence course SS0512, p. "44": 450 mm of bellows on 300 mm, 8 s become 18 s at f/16. SS0511,
    // p. "118": factor 4 is 2 stops. Langford, *Basic Photography*, appendix: 1/2 s at half size, 1.125 s exactly.
    let table = [(8.0, 450.0 / 300.0, 18.0), (1.0, 2.0, 4.0), (0.5, 1.0 + 5.0 / 10.0, 1.125)];
    for (metered, one_plus_m, time) in table {
        let stops = 2.0 * f64::log2(one_plus_m);
        let answer = expose(&Question { extension_stops: lost(stops, 0.0), ..plain(metered) }).unwrap();
        assert_close!(answer.time_s.value, time, relative = 1e-12);
    }
}

#[test]
fn extension_and_filter_multiply_before_anything_the_film_loses() {
    // Own calculation: 0.5 s × 2.25 (half size) × 8 (filter) = 9 s; no film is named, so nothing more is counted.
    let question =
        Question { extension_stops: lost(2.25f64.log2(), 0.0), filter_stops: Estimate::exact(3.0), ..plain(0.5) };
    let answer = expose(&question).unwrap();
    assert_close!(answer.time_s.value, 9.0, relative = 1e-12);
    assert_close!(answer.reciprocity_stops.value, 0.0, absolute = 0.0);
    assert!(answer.remarks.contains(&Remark::LongExposure));
}

#[test]
fn filter_factors_and_stops_of_a_data_sheet() {
    // Kodak F-4016, October 2007, p. 5, daylight: stops and factor agree to a sixth of a stop. (Its polarizer, 1 2/3
    // stops printed beside 2.5, does not, so one column is not derived from the other.)
    let third = 1.0 / 3.0;
    let table = [
        ("No. 8", 2.0 * third, 1.5),
        ("No. 11", 5.0 * third, 3.0),
        ("No. 12", 1.0, 2.0),
        ("No. 25", 3.0, 8.0),
        ("No. 58", 8.0 * third, 6.0),
    ];
    for (filter, stops, factor) in table {
        let answer = expose(&Question { filter_stops: Estimate::exact(stops), ..plain(1.0 / 60.0) }).unwrap();
        assert_close!((answer.time_s.value * 60.0 / factor).log2(), 0.0, absolute = 1.0 / 6.0, "{filter}");
    }
}

#[test]
fn every_stop_doubles_wherever_it_comes_from() {
    // Own calculation: t = metered · (N/N_metered)² · 2^(extension + filter).
    let table = [
        (1.0 / 30.0, 16.0, 16.0, 0.0, 0.0),
        (1.0 / 30.0, 8.0, 16.0, 0.0, 0.0),
        (1.0 / 30.0, 16.0, 8.0, 1.17, 2.0),
        (1.0 / 250.0, 5.6, 22.0, 2.0, 0.0),
        (4.0, 11.0, 4.0, -0.3, 1.0),
    ];
    for (metered_s, metered_f_number, f_number, extension, filter_stops) in table {
        let question = Question {
            metered_f_number,
            f_number,
            extension_stops: lost(extension, 0.0),
            filter_stops: Estimate::exact(filter_stops),
            ..plain(metered_s)
        };
        let answer = expose(&question).unwrap();
        let ratio: f64 = f_number / metered_f_number;
        let by_hand = metered_s * ratio * ratio * f64::exp2(extension) * f64::exp2(filter_stops);
        assert_close!(answer.time_s.value, by_hand, relative = 1e-12);
        assert_close!(answer.aperture_stops, 2.0 * ratio.log2(), absolute = 1e-12);
        assert_close!(answer.metered_s, metered_s, absolute = 0.0);
        assert_close!(answer.filter_stops.value, filter_stops, absolute = 0.0);
        assert_close!(answer.extension_stops.value, extension, absolute = 0.0);
        assert_eq!(answer.time_s.half_width(), None, "nothing here is uncertain");
    }
}

#[test]
fn the_nearest_speed_in_stops() {
    // Between 1/2 and 1/4 the geometric middle decides, 0.35355 s: half a stop either way.
    let table = [
        (0.353, 0.25, -0.4977),
        (0.354, 0.5, 0.4982),
        (0.5, 0.5, 0.0),
        (3.0, 1.0, -1.585),
        (0.001, 0.03125, 4.9658),
        (0.9, 1.0, 0.152),
    ];
    for (time, set, error) in table {
        let answer = expose(&plain(time)).unwrap();
        assert_eq!(answer.set_s, Some(set), "{time}");
        // Positive is too much light.
        assert_close!(answer.set_error_stops.unwrap().value, error, absolute = 5.1e-5, "{time}");
    }
    let without = expose(&Question { shutter_s: &[], ..plain(0.3) }).unwrap();
    assert_eq!((without.set_s, without.set_error_stops), (None, None));
}

#[test]
fn remarks_where_they_belong() {
    let far_off = |question: &Question<'_>| {
        expose(question).unwrap().remarks.iter().find(|remark| matches!(remark, Remark::FarOff { .. })).cloned()
    };
    let long = |time| expose(&plain(time)).unwrap().remarks.contains(&Remark::LongExposure);
    // ILFORD's technical sheet on reciprocity counts nothing at 1 s or less.
    assert!(!long(0.5) && !long(1.0) && long(1.01));
    // A third of a stop is visible on slide film (common practice, no source): 0.5·2^0.3 is not yet, 0.5·2^0.36 is.
    assert_eq!(far_off(&plain(0.5 * 0.3f64.exp2())), None);
    let held = |bulb| far_off(&Question { bulb, ..plain(0.5 * 0.36f64.exp2()) }).unwrap().to_string();
    assert!(held(false).contains("0.4 stops too short") && held(false).contains("filter"), "{}", held(false));
    assert!(held(true).contains("use B"), "{}", held(true));
    let long_by = far_off(&plain(0.5 * (-0.36f64).exp2())).unwrap().to_string();
    assert!(long_by.contains("0.4 stops too long"), "{long_by}");
}

#[test]
fn uncertainty_of_the_time_against_the_lognormal_law() {
    // 0.1 stop of standard uncertainty (normal) through 2^x is lognormal, whose mean and spread have a closed form; the
    // first order must come within 1 %.
    let stops = lost(1.2, 0.1 * optics::COVERAGE_95);
    let answer = expose(&Question { extension_stops: stops, ..plain(0.25) }).unwrap();
    let sigma = 0.1 * std::f64::consts::LN_2;
    let mean = 0.25 * f64::exp2(1.2) * (0.5 * sigma * sigma).exp();
    let sd = mean * ((sigma * sigma).exp() - 1.0).sqrt();
    assert_close!(answer.time_s.plus_minus / optics::COVERAGE_95, sd, relative = 0.01);
    assert_close!(answer.set_error_stops.unwrap().plus_minus, stops.plus_minus, relative = 1e-12);
}

#[test]
fn figures_that_cannot_be_are_refused_in_one_sentence() {
    let bad = [0.0, -1.0, f64::NAN, f64::INFINITY];
    type With = fn(f64) -> Question<'static>;
    let table: [(&str, With); 3] = [
        ("the metered time", plain),
        ("the metered f-number", |n| Question { metered_f_number: n, ..plain(1.0) }),
        ("the f-number", |n| Question { f_number: n, ..plain(1.0) }),
    ];
    for (what, question) in table {
        for figure in bad {
            let words = expose(&question(figure)).unwrap_err().to_string();
            assert!(words.starts_with(what) && words.contains("above 0"), "{words}");
        }
    }
    for figure in [-0.5, f64::NAN, f64::INFINITY] {
        let words = expose(&Question { filter_stops: Estimate::exact(figure), ..plain(1.0) }).unwrap_err().to_string();
        assert!(words.contains("filters") && words.contains("0 or more"), "{words}");
    }
    assert!(expose(&Question { extension_stops: lost(f64::NAN, 0.0), ..plain(1.0) }).is_err());
}

#[test]
fn times_that_cannot_be_name_the_figure_that_makes_them() {
    let refused = |question: &Question<'_>| expose(question).unwrap_err().to_string();
    for metered in [1e308, 1.1e6, 0.9e-6] {
        let words = refused(&plain(metered));
        assert!(words.starts_with("the metered time") && words.contains("0.000001 to 1000000"), "{words}");
        assert!(words.len() < 100, "no row of zeros: {words}");
    }
    let words = refused(&Question { filter_stops: Estimate::exact(1000.0), ..plain(1.0) });
    assert!(words.contains("filters") && words.contains("at most 40") && words.contains("1000"), "{words}");
    // Own calculation: 2^40 s are 35 000 years; from a reading of 1/60000 s they are half a year, which a pinhole takes.
    let filters = |metered| Question { filter_stops: Estimate::exact(40.0), ..plain(metered) };
    assert!(refused(&filters(1.0)).contains("filters, in stops, of 40"), "{}", refused(&filters(1.0)));
    assert!(expose(&filters(1.0 / 60_000.0)).is_ok());
    let words = refused(&Question { extension_stops: lost(2000.0, 0.1), ..plain(1.0) });
    assert!(words.contains("set-up, in stops, of 2000"), "{words}");
    let words = refused(&Question { f_number: 1e12, ..plain(1.0) });
    assert!(words.contains("an f-number of 1e12"), "{words}");
    let words = refused(&Question { f_number: 1e-6, ..plain(1.0) });
    assert!(words.contains("an f-number of 0.000001"), "{words}");
    // The longest and the shortest that anybody meters are taken.
    assert!(expose(&plain(1e6)).is_ok() && expose(&plain(1e-6)).is_ok());
}

#[test]
fn how_the_meter_was_held() {
    // A spot is rendered as middle grey: two stops brighter takes two stops more light. A card of 90 % (white paper) is metered
    // as if it were 18 %: log₂(0.9/0.18) = log₂ 5 more light (closed form).
    let table = [
        (Reading::Incident, 0.0),
        (Reading::Spot { placed_stops: 2.0 }, 2.0),
        (Reading::Spot { placed_stops: -1.5 }, -1.5),
        (Reading::Card { reflectance: 0.18 }, 0.0),
        (Reading::Card { reflectance: 0.9 }, 5f64.log2()),
    ];
    for (reading, stops) in table {
        let answer = expose(&Question { reading, ..plain(0.125) }).unwrap();
        assert_close!(answer.time_s.value, 0.125 * stops.exp2(), relative = 1e-12, "{reading:?}");
        assert_close!(answer.reading_stops.value, stops, absolute = 1e-12);
        assert_eq!(answer.remarks.contains(&Remark::HoldTheCard), matches!(reading, Reading::Card { .. }));
    }
    for (reading, words) in [
        (Reading::Spot { placed_stops: 9.0 }, "from -8 to 8, not 9"),
        (Reading::Spot { placed_stops: f64::NAN }, "not NaN"),
        (Reading::Card { reflectance: 18.0 }, "18 % is 0.18"),
        (Reading::Card { reflectance: 0.0 }, "not 0"),
    ] {
        let told = expose(&Question { reading, ..plain(1.0) }).unwrap_err().to_string();
        assert!(told.contains(words), "{told}");
    }
    for doubt in [-0.1, 6.0, f64::NAN] {
        assert!(expose(&Question { reading_doubt_stops: doubt, ..plain(1.0) }).is_err());
    }
}

#[test]
fn every_step_has_its_time_and_its_doubt() {
    // Doubts of independent steps add in quadrature (JCGM 100:2008, 5.1.2): 0.3 and 0.4 make 0.5 stops, ln 2 of which is the time's share.
    let question = Question {
        reading: Reading::Spot { placed_stops: -1.0 },
        reading_doubt_stops: 0.3,
        f_number: 32.0,
        extension_stops: lost(1.0, 0.4),
        filter_stops: lost(2.0, 1.2),
        ..plain(1.0 / 8.0)
    };
    let answer = expose(&question).unwrap();
    let found: Vec<_> = answer.steps.iter().map(|step| step.stage).collect();
    assert_eq!(found, [Stage::Meter, Stage::Reading, Stage::Aperture, Stage::Extension, Stage::Filters]);
    let ln2 = std::f64::consts::LN_2;
    let after = [(0.125, 0.0), (0.0625, 0.3), (0.25, 0.3), (0.5, 0.5), (2.0, 1.3)];
    for (step, (time, stops)) in answer.steps.iter().zip(after) {
        assert_close!(step.time_s.value, time, relative = 1e-12);
        assert_close!(step.time_s.plus_minus, time * stops * ln2, absolute = 1e-12);
    }
    assert_eq!(answer.time_s, answer.steps[4].time_s);
    assert_close!(answer.time_doubt_stops(), 1.3, relative = 1e-12);
}
