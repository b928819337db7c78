//! Figures against the documents that they come from.

use film::{By, Film, Lamp, Law, Seen, Tone, Where, shipped};
use testkit::assert_close;

fn film(id: &str) -> &'static Film {
    shipped().film(id).unwrap_or_else(|| panic!("no film {id}"))
}

fn law(id: &str, by: By) -> &'static Law {
    film(id).laws.iter().find(|law| law.source.by == by).unwrap_or_else(|| panic!("{id}: no such law"))
}

#[test]
fn exponents_of_the_harman_sheet() {
    // HARMAN technology, Film Reciprocity Failure Compensation, seen in two copies that agree: Tc = Tm^p above 1 s.
    let table = [
        ("sfx", 1.43),
        ("pan-f-plus", 1.33),
        ("delta-100", 1.26),
        ("delta-400", 1.41),
        ("delta-3200", 1.33),
        ("fp4-plus", 1.26),
        ("hp5-plus", 1.31),
        ("xp2", 1.31),
        ("ortho-plus", 1.25),
        ("kentmere-100", 1.26),
        ("kentmere-400", 1.30),
    ];
    for (id, exponent) in table {
        let law = film(id).law().unwrap();
        assert_eq!((law.source.by, law.source.seen), (By::Maker, Seen::Copy), "{id}");
        for metered in [1.5, 10.0, 60.0f64] {
            assert_close!(law.given(metered).time_s, metered.powf(exponent), relative = 1e-12, "{id}");
        }
        for metered in [0.001, 0.5, 1.0] {
            assert_close!(law.given(metered).time_s, metered, relative = 1e-15, "{id}: none at 1 s or less");
        }
    }
    let named = shipped().films.iter().filter(|film| film.laws[0].source.document.starts_with("HARMAN")).count();
    assert_eq!(named, table.len());
}

#[test]
fn the_sheets_own_worked_example() {
    // The same sheet: HP5 Plus metered at 10 s is given 20.4 s, rounded to 20.
    let given = film("hp5-plus").law().unwrap().given(10.0);
    assert_close!(given.time_s, 20.4, absolute = 0.05);
    assert_close!(given.time_s, 20.417_379_446_695_296, relative = 1e-12);
    assert_eq!(given.place, Where::Inside);
}

#[test]
fn tables_of_kodak_f_4016() {
    // Kodak F-4016, October 2007, p. 5: metered time, stops, time.
    let third = 1.0 / 3.0;
    let tmax_100 = [
        (1e-4, third, None),
        (1e-3, 0.0, Some(1e-3)),
        (0.1, 0.0, Some(0.1)),
        (1.0, third, None),
        (10.0, 0.5, Some(15.0)),
        (100.0, 1.0, Some(200.0)),
    ];
    let tmax_400 = [
        (1e-4, 0.0, Some(1e-4)),
        (0.1, 0.0, Some(0.1)),
        (1.0, third, None),
        (10.0, 0.5, Some(15.0)),
        (100.0, 1.5, Some(300.0)),
    ];
    for (id, rows) in [("t-max-100", &tmax_100[..]), ("t-max-400", &tmax_400)] {
        let law = film(id).law().unwrap();
        assert_eq!((law.source.by, law.source.seen), (By::Maker, Seen::Print));
        for &(metered, stops, time) in rows {
            let given = law.given(metered);
            assert_close!(given.open_stops.unwrap(), stops, absolute = 1e-12, "{id} at {metered} s");
            if let Some(time) = time {
                assert_close!(given.time_s, time, relative = 1e-12, "{id} at {metered} s");
            }
            assert_eq!(given.place, Where::Inside);
        }
    }
}

#[test]
fn stops_and_times_are_not_interchangeable() {
    // F-4016, T-MAX 400 at 100 s: 1 1/2 stops would be 283 s, and 300 s are printed.
    let given = film("t-max-400").law().unwrap().given(100.0);
    assert_close!(100.0 * given.open_stops.unwrap().exp2(), 282.842_712, relative = 1e-8);
    assert_close!(given.time_s, 300.0, relative = 1e-12);
    // Where stops are printed alone (1 s, 1/3), the time makes up for its own loss: t = 1 s · 2^s(t), with s running straight over the
    // logarithm of time from 1/3 at 1 s to 1/2 at 10 s. By hand: log10 t = (1/3)/(log2 10 − 1/6).
    let by_hand = 10f64.powf((1.0 / 3.0) / (10f64.log2() - 1.0 / 6.0));
    assert_close!(film("t-max-100").law().unwrap().given(1.0).time_s, by_hand, relative = 1e-12);
}

#[test]
fn the_compilation_of_makers_figures() {
    // German compilation "from manufacturers' information", seen in a copy: Tri-X 1 s → 2 s and 10 s → 50 s; APX 1 s +1, 10 s +2 stops.
    for id in ["tri-x-320", "tri-x-400"] {
        let law = film(id).law().unwrap();
        assert_eq!((law.source.by, law.source.seen), (By::Maker, Seen::Copy));
        for (metered, time) in [(1.0, 2.0), (10.0, 50.0)] {
            assert_close!(law.given(metered).time_s, time, relative = 1e-12);
            assert_eq!(law.given(metered).open_stops, None, "no stops are known for certain");
        }
        // Kodak E-31, July 2002, p. 1: the law holds for most films from 1/1000 to 1/5 s.
        assert_close!(law.given(0.2).time_s, 0.2, relative = 1e-12);
        assert!(law.given(0.3).time_s > 0.3 && law.given(0.02).place == Where::Inside);
    }
    for id in ["apx-100", "apx-400"] {
        let law = film(id).law().unwrap();
        for (metered, stops) in [(1.0, 1.0), (10.0, 2.0)] {
            assert_close!(law.given(metered).open_stops.unwrap(), stops, absolute = 1e-12, "{id}");
        }
        // By hand: an exposure that lasts 10 s loses 2 stops, so that 10 s are right where 2.5 s were metered.
        assert_close!(law.given(2.5).time_s, 10.0, relative = 1e-12);
    }
}

#[test]
fn outside_the_printed_range_it_is_said() {
    for (id, longest) in
        [("t-max-100", 100.0), ("t-max-400", 100.0), ("tri-x-400", 10.0), ("apx-100", 10.0), ("ektar-100", 1.0)]
    {
        let law = film(id).law().unwrap();
        let (inside, outside) = (law.given(longest), law.given(4.0 * longest));
        assert_eq!((inside.place, outside.place), (Where::Inside, Where::Beyond(longest)), "{id}");
        assert!(outside.loss_stops(4.0 * longest) >= inside.loss_stops(longest), "{id}: the line goes on");
        // What lies beyond the last figure is as uncertain as it is large.
        let beyond = outside.loss_stops(4.0 * longest) - inside.loss_stops(longest);
        assert!(outside.plus_minus_stops >= beyond, "{id}");
    }
    // F-4016 begins at 1/10,000 s; E-31 speaks of 1/1000 s and longer.
    assert_eq!(film("t-max-100").law().unwrap().given(5e-5).place, Where::Before(1e-4));
    assert_eq!(film("portra-160").law().unwrap().given(5e-4).place, Where::Before(1e-3));
}

#[test]
fn sources_that_disagree_are_shown_apart() {
    // Bond, Photo Techniques, July-August 2003, and Gainer, September-October 2003, in a copy: corrected = tm + k·tm^1.62. HP5 Plus
    // at 10 s: 10 + 0.101·41.69 = 14.2 s, where HARMAN's sheet gives 20.4 s: half a stop apart.
    let independent = law("hp5-plus", By::Independent).given(10.0);
    assert_close!(independent.time_s, 14.2, absolute = 0.05);
    let maker = film("hp5-plus").law().unwrap();
    assert_eq!(maker.source.by, By::Maker, "the maker's is used");
    assert_close!((maker.given(10.0).time_s / independent.time_s).log2(), 0.5, absolute = 0.05);
    let others = film("hp5-plus").others(10.0);
    assert_eq!(others.len(), 1);
    assert_close!(others[0].1.time_s, independent.time_s, relative = 1e-15);
    for (id, k) in [("t-max-100", 0.069), ("t-max-400", 0.061), ("delta-100", 0.046), ("tri-x-400", 0.169)] {
        let given = law(id, By::Independent).given(20.0);
        assert_close!(given.time_s, 20.0 + k * 20f64.powf(1.62), relative = 1e-12, "{id}");
    }
}

#[test]
fn filters_of_kodak_f_4016() {
    // October 2007, p. 5: daylight stops and factor; tungsten stops and factor.
    let table = [
        ("no-8", "2/3", 1.5, "1/3", 1.2),
        ("no-11", "1 2/3", 3.0, "1 2/3", 3.0),
        ("no-12", "1", 2.0, "1/3", 1.2),
        ("no-15", "1", 2.0, "2/3", 1.5),
        ("no-25", "3", 8.0, "2", 4.0),
        ("no-47", "3", 8.0, "4 2/3", 25.0),
        ("no-58", "2 2/3", 6.0, "2 2/3", 6.0),
        ("polarizer", "1 2/3", 2.5, "1 1/3", 2.5),
    ];
    assert_eq!(shipped().filters[0].filters.len(), table.len());
    for (id, day_stops, day_factor, tungsten_stops, tungsten_factor) in table {
        let (sheet, filter) = shipped().filter(id).unwrap();
        assert_eq!(sheet.source.words(), "Kodak F-4016, October 2007, p. 5");
        for (lamp, stops, factor) in
            [(Lamp::Daylight, day_stops, day_factor), (Lamp::Tungsten, tungsten_stops, tungsten_factor)]
        {
            let taken = filter.taken(lamp);
            assert_eq!(taken.stops.text, stops, "{id}");
            assert_close!(taken.factor, factor, relative = 1e-15, "{id}");
            // Both columns agree to a sixth of a stop but for the polarizer in daylight, which is why neither is made from the other.
            let apart = taken.disagree_stops().abs() > 1.0 / 6.0;
            assert_eq!(apart, id == "polarizer" && lamp == Lamp::Daylight, "{id}");
        }
    }
}

#[test]
fn grain_where_it_is_published() {
    // RMS granularity 8 of T-MAX 100: Kodak F-4016 in a copy. Of the others no figure was seen.
    let with: Vec<_> =
        shipped().films.iter().filter(|film| film.structure.is_some()).map(|film| film.id.as_str()).collect();
    assert_eq!(with, ["t-max-100"]);
    let grain = film("t-max-100").structure.as_ref().unwrap();
    assert_close!(grain.rms_granularity, 8.0, absolute = 0.0);
    assert_eq!(grain.source.standing(), "from a copy of the maker's sheet");
}

#[test]
fn latitude_is_lopsided_for_negatives() {
    // Common practice, no source: reversal ±1/3, negative −1 to +2.
    let (negative, reversal) = (Tone::Negative.latitude(), Tone::Reversal.latitude());
    assert_close!(negative.over - negative.under, 1.0, absolute = 1e-15);
    assert_close!(reversal.over - reversal.under, 0.0, absolute = 1e-15);
    assert_close!(reversal.over, 1.0 / 3.0, relative = 1e-15);
}

#[test]
fn what_films_lose_between_them() {
    // The independent law has no threshold and counts a hair at any time.
    assert!(shipped().spread(0.01).is_some_and(|(least, most)| least == 0.0 && most < 0.05));
    let (least, most) = shipped().spread(10.0).unwrap();
    // By hand: independent test of Delta 100, 10 + 0.046·41.69 = 11.92 s; Tri-X 50 s (APX, in stops alone, ends at 10 s and lasts 72.7 s).
    assert_close!(least, 1.191_76f64.log2(), absolute = 1e-4);
    let apx = (10f64.log2() + 1.0) / (10f64.log2() - 1.0);
    assert_close!(most, (10f64.powf(apx) / 10.0).log2(), absolute = 1e-9);
}
