//! Data that no film can have is refused, and says where.

use film::{Point, Table, read};

const DATA: &str = include_str!("../../data/films.toml");

#[test]
fn the_shipped_file_has_no_gap() {
    let stock = read(DATA).expect("reads");
    assert_eq!(stock.films.len(), 20);
    for film in &stock.films {
        assert!(film.law().is_some() && film.tone.is_some() && !film.maker.is_empty(), "{}", film.id);
        for law in &film.laws {
            assert!(law.source.words().len() > 8, "{}", film.id);
        }
    }
}

#[track_caller]
fn refused(from: &str, to: &str, words: &str) {
    assert!(DATA.contains(from), "the shipped file no longer holds {from}");
    match read(&DATA.replacen(from, to, 1)) {
        Ok(_) => panic!("taken with {to}"),
        Err(error) => assert!(error.to_string().contains(words), "\"{words}\" is not in: {error}"),
    }
}

#[test]
fn the_schema_refuses_what_it_does_not_know() {
    refused("id = \"hp5-plus\"", "id = \"xp2\"", "there are two of this film");
    refused("id = \"hp5-plus\"", "id = \"HP5\"", "lower-case");
    refused("name = \"HP5 Plus\"", "title = \"HP5 Plus\"", "unknown field");
    refused("name = \"HP5 Plus\"", "name = \" \"", "needs a name");
    refused("date = \"October 2007\"", "date = \"\"", "may not be blank");
    refused("date = \"October 2007\"\n", "", "missing field");
    refused("\nseen = \"copy\"", "\nseen = \"memory\"", "unknown variant");
    refused("by = \"maker\"", "by = \"own\"", "belongs in the kit");
    refused("of = \"harman\"", "of = \"herman\"", "there is no law \"herman\"");
    refused("id = \"harman\"", "id = \"harmonic\"", "no film goes by this law");
    refused("exponent = 1.43", "exponent = 0.9", "1 or more");
    refused("exponent = 1.43", "exponent = nan", "1 or more");
    refused("from_s = 1", "from_s = 0", "above 0");
    refused("speed = 100", "speed = -100", "speed must be above 0");
    refused("kind = \"negative\"", "kind = \"slide\"", "unknown variant");
    refused("stops = \"1 1/2\"", "stops = \"one and a half\"", "no number of stops");
    refused("power = { exponent = 1.43, from_s = 1 }", "table = []", "holds no point");
    refused("power = { exponent = 1.43, from_s = 1 }", "note = \"later\"", "unknown field");
    refused(
        "{ of = \"harman\", power = { exponent = 1.43, from_s = 1 } }",
        "{ of = \"harman\" }",
        "one of power, added and table",
    );
    refused("metered_s = 0.1, none = true", "metered_s = 0.1", "either none or a figure");
    refused("metered_s = 0.1, none = true", "metered_s = 0.0001, none = true", "rising order");
    refused("time_s = 200", "time_s = 12", "no film wants less light");
    refused("no_loss_s = [0.001, 0.2]", "no_loss_s = [0.2, 0.001]", "rising");
    refused("films = [\"t-max-100\", ", "films = [\"t-max-1000\", ", "film that is not there");
    refused("id = \"no-12\"", "id = \"no-11\"", "there are two of this filter");
    refused("factor = 1.5", "factor = 0", "1 or more");
}

fn told(points: &[(f64, Point)]) -> String {
    Table::measured(points, 0.001..=0.2).expect_err("refused").to_string()
}

#[test]
fn a_test_of_ones_own_says_which_point_is_wrong() {
    use Point::{Stops, Time};
    assert!(told(&[]).contains("holds no point"));
    assert!(told(&[(0.0, Time(1.0))]).contains("point 1: 0 s is no time"));
    assert!(told(&[(1.0, Time(f64::NAN))]).contains("point 1: NaN s is no time"));
    assert!(told(&[(1.0, Time(f64::INFINITY))]).contains("no time"));
    assert!(told(&[(1.0, Stops(-0.5))]).contains("point 1: -0.5 stops is no loss"));
    assert!(told(&[(1.0, Time(2.0)), (1.0, Time(3.0))]).contains("point 2: 1 s comes after 1 s"));
    assert!(told(&[(10.0, Time(20.0)), (1.0, Time(1.3))]).contains("point 2: 1 s comes after 10 s"));
    assert!(told(&[(1.0, Time(1.0)), (10.0, Time(9.0))]).contains("point 2: metered 10 s, given 9 s"));
    assert!(told(&[(1.0, Time(20.0)), (10.0, Time(20.0))]).contains("point 2: it gives 20 s"));
    // Ten times the exposure is 3.3 stops; a loss that grows by four leaves the film lighter than before.
    let steep = told(&[(1.0, Stops(0.0)), (10.0, Stops(4.0))]);
    assert!(steep.contains("point 2: from 1 to 10 s the loss grows by 4 stops"), "{steep}");
    // From no loss at 1/5 s (Kodak E-31) to 3 stops at 1 s cannot be either: 2.3 stops lie between.
    assert!(told(&[(1.0, Stops(3.0))]).contains("point 1"));
}
