//! What every law must do, whatever its figures.

use film::{Film, Form, Law, Point, Table, shipped};
use proptest::prelude::*;
use testkit::assert_close;

fn every_law() -> impl Iterator<Item = (&'static Film, &'static Law)> {
    shipped().films.iter().flat_map(|film| film.laws.iter().map(move |law| (film, law)))
}

/// A measured table of chance: rising times, each given as much or more, the loss rising more slowly than the exposure.
fn measured() -> impl Strategy<Value = Table> {
    proptest::collection::vec((0.1..3.0f64, 0.0..0.9f64, any::<bool>()), 1..6).prop_map(|steps| {
        let (mut metered, mut loss, mut points) = (0.05f64, 0.0, Vec::new());
        for (stops, share, as_time) in steps {
            metered *= stops.exp2();
            loss += stops * share;
            points.push((metered, if as_time { Point::Time(metered * loss.exp2()) } else { Point::Stops(loss) }));
        }
        // One column at a time: a mixture of both need not rise.
        let times = points.iter().any(|(_, point)| matches!(point, Point::Time(_)));
        let column = |(metered, point): (f64, Point)| match (point, times) {
            (Point::Stops(loss), true) => (metered, Point::Time(metered * loss.exp2())),
            other => (metered, other.0),
        };
        Table::measured(&points.into_iter().map(column).collect::<Vec<_>>(), 0.001..=0.01).expect("rises")
    })
}

/// No exposure is shortened, and longer readings get longer exposures.
fn rises(law: &Law) {
    let mut before = 0.0;
    for step in -140..140 {
        let metered = 10f64.powf(f64::from(step) / 20.0);
        let given = law.given(metered);
        assert!(given.time_s >= metered * (1.0 - 1e-12), "{metered} s is shortened to {} s", given.time_s);
        assert!(given.time_s > before, "{metered} s gets no more than the reading before");
        before = given.time_s;
    }
}

/// No jump anywhere: a reading longer by a millionth is given longer by no more than the steepest law explains.
fn continuous(law: &Law, at: f64) {
    let [under, over] = [1.0 - 1e-9, 1.0 + 1e-9].map(|by| law.given(at * by).time_s);
    assert_close!(over / under, 1.0, absolute = 1e-7, "a jump at {at} s");
}

#[test]
fn every_shipped_law_rises_and_never_shortens() {
    for (_, law) in every_law() {
        rises(law);
    }
}

#[test]
fn no_law_jumps_at_its_threshold_or_its_points() {
    for (_, law) in every_law() {
        let mut places = vec![*shipped().no_loss_s.end()];
        match &law.form {
            Form::Power { from_s, .. } => places.push(*from_s),
            Form::Table(table) => places.extend(table.rows().iter().map(|row| row.metered_s)),
            Form::Added { .. } => places.push(1.0),
        }
        for at in places {
            continuous(law, at);
        }
    }
}

#[test]
fn the_slope_is_that_of_the_curve() {
    for (film, law) in every_law() {
        // Away from corners.
        for metered in [0.0513, 0.63, 3.1, 37.0, 411.0f64] {
            let step = 1e-6;
            let [low, high] = [-step, step].map(|by: f64| law.given(metered * by.exp()).time_s.ln());
            assert_close!(
                law.given(metered).slope,
                (high - low) / (2.0 * step),
                absolute = 1e-6,
                "{} at {metered} s",
                film.id
            );
        }
    }
}

#[test]
fn the_other_way_round_gives_the_reading_back() {
    for (film, law) in every_law() {
        for metered in [1e-3, 0.1, 0.9, 1.0, 7.0, 100.0, 3000.0] {
            let given = law.given(metered).time_s;
            assert_close!(law.metered_for(given), metered, relative = 1e-9, "{}", film.id);
        }
    }
}

#[test]
fn doubt_grows_with_what_is_not_known() {
    // Half a unit in the last place of an exponent of 1.31, over log2 10 stops of time.
    let hp5 = shipped().film("hp5-plus").unwrap().law().unwrap();
    assert_close!(hp5.given(10.0).plus_minus_stops, 0.005 * 10f64.log2(), relative = 1e-12);
    assert_close!(hp5.given(0.5).plus_minus_stops, 0.0, absolute = 0.0);
    // Columns printed in thirds of a stop.
    let tmax = shipped().film("t-max-400").unwrap().law().unwrap();
    assert_close!(tmax.given(100.0).plus_minus_stops, 1.0 / 6.0, relative = 1e-12);
    let beyond = tmax.given(400.0);
    let last = (300.0f64 / 100.0).log2();
    assert_close!(beyond.plus_minus_stops, (beyond.loss_stops(400.0) - last).hypot(1.0 / 6.0), relative = 1e-9);
}

proptest! {
    #[test]
    fn measured_tables_rise_and_are_met_at_their_points(table in measured()) {
        let law = Law { form: Form::Table(table.clone()), source: film::Source::own("", "") };
        rises(&law);
        for row in table.rows() {
            continuous(&law, row.metered_s);
            let given = law.given(row.metered_s);
            if let Some(time) = row.time_s {
                assert_close!(given.time_s, time, relative = 1e-12);
            }
            if let Some(stops) = &row.stops {
                // Lasting as long as the row says, it loses what the row says.
                assert_close!(law.metered_for(row.metered_s), row.metered_s / stops.value.exp2(), relative = 1e-9);
                assert_close!(given.open_stops.unwrap_or(0.0), stops.value, absolute = 1e-12);
            }
        }
    }

    #[test]
    fn the_other_way_round_holds_for_measured_tables(table in measured(), metered in -10.0..10.0f64) {
        let law = Law { form: Form::Table(table), source: film::Source::own("", "") };
        let metered = metered.exp2();
        assert_close!(law.metered_for(law.given(metered).time_s), metered, relative = 1e-9);
    }
}
