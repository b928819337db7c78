//! What keeps a set-up from being worked as usual, and the way out of it.

use crate::common::{is_one_sentence, read, request, warned};
use kit::{Focus, LinkageEnds, Obstacle, Setup, Shutter, Standing};

const KIT: &str = r#"
[[body]]
id = "plain"
frame_mm = [56, 56]
register_mm = 80
mount = "m"
[[body]]
id = "curtain"
frame_mm = [56, 56]
register_mm = 80
mount = "m"
shutter_s = [1, 0.5]
[[lens]]
id = "leaf"
mount = "m"
focal_length_mm = 80
max_aperture = 4
length_mm = 60
thread_mm = 52
shutter_s = [1, 0.25]
[[lens]]
id = "barrel"
mount = "m"
focal_length_mm = 100
max_aperture = 4
length_mm = 60
thread_mm = 52
[[lens]]
id = "linked"
mount = "m"
focal_length_mm = 90
max_aperture = 4
length_mm = 60
thread_mm = 52
iris = "coupled"
[[tube]]
id = "tube"
mount = "m"
length_mm = 30
[[tube]]
id = "carrying"
mount = "m"
length_mm = 30
linkage = true
[[bellows]]
id = "bellows"
mount = "m"
draw_mm = [30, 120]
[[teleconverter]]
id = "converter"
mount = "m"
factor = 2
length_mm = 40
[[teleconverter]]
id = "ending"
mount = "m"
factor = 2
length_mm = 40
iris_stays = true
[[reversing_ring]]
id = "ring"
mount = "m"
thread_mm = 52
[[coupling_ring]]
id = "couple"
threads_mm = [52, 52]
[[adapter]]
id = "adapter"
body_mount = "m"
lens_mount = "n"
length_mm = 5
[[lens]]
id = "linked-n"
mount = "n"
focal_length_mm = 90
max_aperture = 4
length_mm = 60
iris = "coupled"
"#;

fn found(parts: &str) -> Vec<Obstacle> {
    let kit = read(KIT);
    Setup::resolve(&kit, &request(parts, Focus::Infinity))
        .unwrap_or_else(|error| panic!("{parts}: {error}"))
        .obstacles()
}

#[test]
fn a_leaf_shutter_that_cannot_be_worked() {
    let nothing = |how| Obstacle::NothingFires { lens: "leaf".into(), how };
    let in_the_way = |how| Obstacle::LeafInTheWay { lens: "leaf".into(), how, by: None };
    let table = [
        ("plain,leaf", None),
        ("curtain,leaf", None),
        ("plain,tube,ring,leaf", Some(nothing(Standing::Reversed))),
        ("curtain,tube,ring,leaf", Some(in_the_way(Standing::Reversed))),
        ("plain,free=40,leaf", Some(nothing(Standing::Held))),
        ("curtain,free=40,leaf", Some(in_the_way(Standing::Held))),
        ("curtain,free=40,leaf=reversed", Some(in_the_way(Standing::Held))),
        ("plain,barrel,couple,leaf", Some(nothing(Standing::Second))),
        ("curtain,barrel,couple,leaf", Some(in_the_way(Standing::Second))),
        ("plain,leaf,couple,barrel", None),
    ];
    for (parts, expected) in table {
        assert_eq!(found(parts), expected.into_iter().collect::<Vec<_>>(), "{parts}");
    }
}

#[test]
fn two_leaf_shutters_in_a_row() {
    let text = KIT.replace("id = \"barrel\"", "id = \"second\"\nbulb = true");
    let kit = read(&text);
    let setup = Setup::resolve(&kit, &request("plain,leaf,couple,second", Focus::Infinity)).unwrap();
    assert_eq!(setup.shutter(), Shutter::Lens(kit.part("leaf").unwrap()));
    assert_eq!(setup.shutter_s(), [1.0, 0.25]);
    let words = setup.obstacles().iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
    assert!(
        words.contains("\"second\"") && words.contains("while the shutter of \"leaf\" makes the exposure"),
        "{words}"
    );
    assert!(!words.contains("body's shutter"), "{words}");
}

#[test]
fn an_iris_that_stays_open() {
    let by = |part: &str| Some(LinkageEnds::Part(part.into()));
    let table = [
        ("plain,linked", None),
        ("plain,tube,linked", by("tube")),
        ("plain,carrying,linked", None),
        ("plain,carrying,tube,linked", by("tube")),
        ("plain,bellows=40,linked", by("bellows")),
        ("plain,converter,linked", None),
        ("plain,ending,linked", by("ending")),
        ("plain,converter,tube,linked", by("tube")),
        ("plain,tube,ring,linked", Some(LinkageEnds::Reversed)),
        ("plain,carrying,free=20,linked", Some(LinkageEnds::Held)),
        ("plain,free=40,linked=reversed", Some(LinkageEnds::Held)),
        ("plain,adapter,linked-n", by("adapter")),
    ];
    for (parts, why) in table {
        let lens = if parts.contains("linked-n") { "linked-n" } else { "linked" };
        let expected: Vec<_> = why.map(|why| Obstacle::IrisStaysOpen { lens: lens.into(), why }).into_iter().collect();
        assert_eq!(found(parts), expected, "{parts}");
    }
    // The second lens stands wide open as it is.
    assert_eq!(found("plain,barrel,couple,linked"), []);
}

#[test]
fn each_names_the_way_out_and_is_told_with_the_report() {
    let table: [(&str, &[&str]); 6] = [
        (
            "plain,tube,ring,leaf",
            &["nothing fires", "\"leaf\"", "is reversed", "another lens's shutter", "cap", "flash"],
        ),
        ("curtain,tube,ring,leaf", &["\"leaf\"", "is reversed", "hold it open", "the body's shutter makes"]),
        ("curtain,barrel,couple,leaf", &["stands second in the train", "hold it open"]),
        (
            "plain,tube,linked",
            &["\"linked\"", "\"tube\" does not carry", "widest", "set by hand", "carries the linkage"],
        ),
        ("plain,tube,ring,linked", &["a reversed lens does not reach", "wide open"]),
        ("plain,free=40,linked", &["held by hand does not reach"]),
    ];
    for (parts, needles) in table {
        let kit = read(KIT);
        let report = Setup::resolve(&kit, &request(parts, Focus::Infinity)).and_then(|setup| setup.report());
        let words = warned(&report.unwrap_or_else(|error| panic!("{parts}: {error}")));
        let told = words.iter().find(|words| needles.iter().all(|needle| words.contains(needle)));
        assert!(told.is_some_and(|words| is_one_sentence(words)), "{parts}: {words:?}");
    }
}

#[test]
fn what_makes_the_exposure() {
    let kit = read(KIT);
    let shutter = |parts: &str| Setup::resolve(&kit, &request(parts, Focus::Infinity)).unwrap().shutter();
    let part = |id: &str| kit.part(id).unwrap();
    assert_eq!(shutter("plain,barrel"), Shutter::Unknown);
    assert_eq!(shutter("curtain,barrel"), Shutter::Body(part("curtain")));
    assert_eq!(shutter("curtain,leaf"), Shutter::Lens(part("leaf")));
    assert_eq!(shutter("curtain,tube,ring,leaf"), Shutter::Body(part("curtain")));
    assert_eq!(shutter("plain,tube,ring,leaf"), Shutter::None);
}
