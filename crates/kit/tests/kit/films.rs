//! Films of the kit: a person's own test wins, what is published stands beside it, and slips are told by their place.

use crate::common::read;
use film::{By, Tone};
use kit::{Focus, Kind, Kit, Part, Setup, SetupRequest};
use testkit::assert_close;

const OWN: &str = r#"
[[film]]
id = "hp5-plus"
name = "HP5 of the drawer"
speed = 250
kind = "negative"
times_s = "1=1.2, 10=16, 100 = 300"
tested = "March 2026, in a tray"

[[film]]
id = "slides"
kind = "reversal"
open_stops = [[1, 0.5], [10, 1]]

[[film]]
id = "bulk-roll"
published_as = "t-max-400"
"#;

#[test]
fn a_test_of_ones_own_wins_and_the_published_figures_stand_beside_it() {
    let kit = read(OWN);
    let chosen = kit.film("hp5-plus").unwrap();
    assert!(chosen.of_kit && chosen.shadows);
    let law = chosen.film.law().unwrap();
    assert_eq!((law.source.by, law.source.date.as_str()), (By::Own, "March 2026, in a tray"));
    for (metered, time) in [(1.0, 1.2), (10.0, 16.0), (100.0, 300.0)] {
        assert_close!(law.given(metered).time_s, time, relative = 1e-12);
    }
    let beside: Vec<_> = chosen.film.others(10.0).iter().map(|(law, _)| law.source.by).collect();
    assert_eq!(beside, [By::Maker, By::Independent]);
    assert_eq!((chosen.film.speed, chosen.film.tone), (Some(250.0), Some(Tone::Negative)));
    assert_eq!((chosen.film.name.as_str(), chosen.film.maker.as_str()), ("HP5 of the drawer", "ILFORD"));
}

#[test]
fn stops_are_a_test_too_and_a_published_name_lends_what_is_left_open() {
    let kit = read(OWN);
    let slides = kit.film("slides").unwrap();
    assert!(slides.of_kit && !slides.shadows && slides.film.others(1.0).is_empty());
    assert_eq!(slides.film.tone, Some(Tone::Reversal));
    assert_close!(slides.film.law().unwrap().given(10.0).open_stops.unwrap(), 1.0, absolute = 1e-12);
    let bulk = kit.film("bulk-roll").unwrap();
    assert_eq!(bulk.film.law().unwrap().source.by, By::Maker);
    assert_eq!((bulk.film.speed, bulk.film.tone), (Some(400.0), Some(Tone::Negative)));
}

#[test]
fn the_kits_films_come_first_and_shadow_the_shipped() {
    let kit = read(OWN);
    let ids: Vec<_> = kit.films().into_iter().map(|chosen| chosen.film.id).collect();
    assert_eq!(ids[..3], ["hp5-plus", "slides", "bulk-roll"]);
    assert_eq!(ids.iter().filter(|id| *id == "hp5-plus").count(), 1);
    assert_eq!(ids.len(), film::shipped().films.len() + 2);
    assert_eq!(Kit::default().films().len(), film::shipped().films.len());
    assert!(!Kit::default().film("hp5-plus").unwrap().of_kit);
}

#[test]
fn a_film_that_is_nowhere_names_the_nearest() {
    let told = |kit: &Kit, id: &str| kit.film(id).unwrap_err().to_string();
    let (own, none) = (read(OWN), Kit::default());
    assert_eq!(told(&none, "hp5"), "there is no film \"hp5\"; did you mean \"hp5-plus\"?");
    let spaced = told(&own, "HP5 Plus");
    assert!(spaced.starts_with("there is no film \"HP5 Plus\"; did you mean \"hp5-plus\""), "{spaced}");
    let tmax = told(&none, "tmax");
    assert!(tmax.contains("\"t-max-100\" or \"t-max-400\""), "{tmax}");
    assert!(told(&none, "velveteen").contains("closework films"), "{}", told(&none, "velveteen"));
    assert!(told(&own, "slide").contains("\"slides\""));
    let lens =
        read("[[lens]]\nid = \"apx\"\nmount = \"m\"\nfocal_length_mm = 90\nmax_aperture = 2.8\nlength_mm = 68\n");
    let other = told(&lens, "apx");
    assert!(other.contains("is a lens") && other.contains("\"apx-100\" or \"apx-400\""), "{other}");
}

#[track_caller]
fn refused(line: &str, words: &[&str]) {
    let text = format!("[[film]]\nid = \"f\"\n{line}\n");
    let told = Kit::parse(&text).unwrap_err().to_string();
    for word in words {
        assert!(told.contains(word), "\"{word}\" is not in: {told}");
    }
    assert_eq!(told.lines().count(), 1, "{told}");
}

#[test]
fn tests_that_no_film_can_give_name_line_field_and_point() {
    refused("times_s = \"10=20, 1=1.3\"", &["line 3", "times_s", "point 2", "1 s comes after 10 s", "rising order"]);
    refused("times_s = \"1=1.3, 10=9\"", &["line 3", "point 2", "no film wants less light"]);
    refused("times_s = \"1=1.3, 10\"", &["line 3", "times_s", "point 2", "1=1.3, 10=20"]);
    refused("times_s = \"\"", &["line 3", "holds no point"]);
    refused("times_s = 10", &["line 3", "times_s", "pair of numbers"]);
    refused("times_s = [[1, 1.3], [10]]", &["line 3", "point 2"]);
    refused("times_s = [[1, nan]]", &["line 3", "no time"]);
    refused("open_stops = \"1=0.3, 10=4.5\"", &["line 3", "open_stops", "point 2", "loss grows"]);
    refused("open_stops = [[1, -0.3]]", &["line 3", "no loss"]);
    refused("published_as = \"hp5\"", &["line 3", "published_as", "\"hp5-plus\""]);
    refused("kind = \"slide\"", &["line 3", "negative", "reversal"]);
    refused("speed = 0", &["line 3", "speed", "above 0"]);
    refused("speed = 1e6", &["line 3", "speed", "no real part has"]);
}

#[test]
fn a_film_is_typed_into_a_form() {
    let typed = |times: &str| {
        let times = times.to_owned();
        Part::from_form(Kind::Film, "f", move |field| (field == "times_s").then(|| times.clone()))
    };
    let part = typed("1=1,3; 10=20").unwrap();
    assert_eq!(part.form_text("times_s"), "1=1.3, 10=20");
    let again = Kit::parse(&part.to_toml()).unwrap();
    assert_eq!(again.parts(), std::slice::from_ref(&part));
    let told = typed("1=1.3, ten=20").unwrap_err()[0].problem.in_form();
    assert!(told.contains("point 2") && told.contains("ten=20"), "{told}");
    let told = typed("10=20, 1=1.3").unwrap_err()[0].problem.in_form();
    assert!(told.contains("point 2") && told.contains("rising order"), "{told}");
}

#[test]
fn a_film_is_no_part_of_a_stack() {
    let kit = read(&(OWN.to_owned() + crate::common::EXAMPLE));
    let parts = ["six-by-six", "slides", "standard-90"].map(str::to_owned).to_vec();
    let request = SetupRequest { parts, focus: Focus::Infinity, f_number: None, coc_mm: None };
    let told = Setup::resolve(&kit, &request).unwrap_err().to_string();
    assert!(told.contains("film \"slides\" cannot follow"), "{told}");
}
