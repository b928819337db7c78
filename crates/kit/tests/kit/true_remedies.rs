//! What a miss lacks and which ring is missing: put it in, and the set-up reaches.

use crate::common::{Chance, read};
use kit::{Demand, Kit, Miss, Missing, Reach, reach};

/// Two lenses of which neither reaches life size by itself; their threads and the close-up lens's differ, and no ring
/// joins them.
const KIT: &str = r#"
[[body]]
id = "body"
frame_mm = [56, 56]
register_mm = 80
mount = "m"
[[lens]]
id = "ninety"
mount = "m"
focal_length_mm = 90
max_aperture = 2.8
pupil_ratio = 0.92
length_mm = 40
principal_separation_mm = 4
max_magnification = 0.125
thread_mm = 52
[[lens]]
id = "short"
mount = "m"
focal_length_mm = 50
max_aperture = 4
pupil_ratio = 1
length_mm = 30
principal_separation_mm = 2
max_magnification = 0.12
thread_mm = 49
[[tube]]
id = "tube"
mount = "m"
length_mm = 21
[[bellows]]
id = "bellows"
mount = "m"
draw_mm = [35, 60]
[[close_up_lens]]
id = "plus-three"
power_dpt = 3
thread_mm = 58
[[teleconverter]]
id = "converter"
mount = "m"
factor = 1.4
length_mm = 20
"#;

fn wanted(kit: &Kit, m: f64) -> Reach {
    reach(kit, &Demand { magnification: Some(m), ..Demand::default() }).unwrap()
}

/// The set-up of these parts in any order, among those that reach.
fn reaches(kit: &Kit, parts: &[String], m: f64) -> bool {
    let mut parts = parts.to_vec();
    parts.sort();
    wanted(kit, m).setups.iter().any(|setup| {
        std::iter::once(&setup.parts).chain(&setup.alternatives).any(|found| {
            let mut found = found.clone();
            found.sort();
            found == parts
        })
    })
}

/// The numbers in a text, in order.
fn numbers(text: &str) -> Vec<f64> {
    let words = text.split(|c: char| !(c.is_ascii_digit() || c == '.'));
    words.filter_map(|word| word.trim_end_matches('.').parse().ok()).collect()
}

fn with_part(text: &str, part: &str) -> Kit {
    read(&format!("{text}{part}"))
}

/// Puts the remedies of a miss in; how many there were to try.
fn put_in(text: &str, miss: &Miss, m: f64) -> usize {
    let mut tried = 0;
    let grown = |id: &str, at: usize| {
        let mut parts = miss.parts.clone();
        parts.insert(at, id.into());
        parts
    };
    let tube = miss.why.split("a tube of ").nth(1).and_then(|rest| rest.split(" mm would do").next());
    if let Some(lengths) = tube {
        for length in numbers(lengths) {
            tried += 1;
            let kit = with_part(text, &format!("[[tube]]\nid = \"new-tube\"\nmount = \"m\"\nlength_mm = {length}\n"));
            // Before the converter, where there is one: the light's way through it stays as it is.
            let converter = miss.parts.iter().position(|id| id == "converter");
            let parts = grown("new-tube", converter.map_or(1, |at| at + 1));
            assert!(reaches(&kit, &parts, m), "{length} mm: {:?}: {}", miss.parts, miss.why);
        }
    }
    let close_up = miss.why.split("a close-up lens of ").nth(1).and_then(|rest| rest.split(" dpt").next());
    if let Some(powers) = close_up {
        let [weakest, strongest] = numbers(powers)[..] else { panic!("{}", miss.why) };
        let thread = read(text).part(miss.parts.last().unwrap()).unwrap().number("thread_mm").unwrap();
        for power in [weakest, 0.5 * (weakest + strongest), strongest] {
            tried += 1;
            let kit = with_part(
                text,
                &format!("[[close_up_lens]]\nid = \"new-glass\"\npower_dpt = {power}\nthread_mm = {thread}\n"),
            );
            let parts = grown("new-glass", miss.parts.len());
            assert!(reaches(&kit, &parts, m), "+{power}: {:?}: {}", miss.parts, miss.why);
        }
    }
    tried
}

/// Puts a missing ring in.
fn put_ring_in(text: &str, missing: &Missing, m: f64) {
    let figures = numbers(&missing.ring);
    let (entry, before) = if missing.ring.starts_with("a step ring from") {
        let [from, to] = figures[..] else { panic!("{}", missing.ring) };
        (format!("[[step_ring]]\nid = \"new-ring\"\nfrom_mm = {from}\nto_mm = {to}\n"), "plus")
    } else {
        assert!(missing.ring.starts_with("a reversing ring from mount \"m\" to"), "{}", missing.ring);
        let thread = figures.last().unwrap();
        (format!("[[reversing_ring]]\nid = \"new-ring\"\nmount = \"m\"\nthread_mm = {thread}\n"), "")
    };
    let kit = with_part(text, &entry);
    let lens = |id: &String| matches!(kit.part(id).unwrap().kind(), kit::Kind::Lens);
    let at = match before {
        "" => missing.parts.iter().position(lens).unwrap(),
        _ => missing.parts.iter().position(|id| id.starts_with(before)).unwrap(),
    };
    let mut parts = missing.parts.clone();
    parts.insert(at, "new-ring".into());
    assert!(reaches(&kit, &parts, m), "{}: {:?} at {m}", missing.ring, missing.parts);
    assert!(missing.magnification.holds(m));
}

#[test]
fn put_in_what_is_missing_and_it_reaches() {
    let (mut tried, mut rings) = (0, std::collections::BTreeSet::new());
    for m in [0.16, 0.2, 0.33, 0.5, 0.8, 1.0, 1.5, 2.5] {
        let reached = wanted(&read(KIT), m);
        for miss in &reached.misses {
            tried += put_in(KIT, miss, m);
        }
        for missing in &reached.missing {
            put_ring_in(KIT, missing, m);
            rings.insert(missing.ring.clone());
        }
    }
    assert!(tried > 60, "{tried}");
    let words = rings.iter().cloned().collect::<Vec<_>>().join("\n");
    for ring in ["step ring from 52 to 58", "step ring from 49 to 58", "reversing ring from mount \"m\" to 52"] {
        assert!(words.contains(ring), "{ring}: {words}");
    }
}

#[test]
fn less_extension_is_less_extension() {
    let kit = read(KIT);
    let mut tried = 0;
    for m in [0.15, 0.3, 0.5] {
        for miss in wanted(&kit, m).misses {
            let Some(less) = miss.why.split("×; ").nth(1).filter(|why| why.contains("mm less extension")) else {
                continue;
            };
            let less = numbers(less)[0];
            // Taken from the bellows or the tube.
            let (id, length) =
                if miss.parts.contains(&"bellows".to_string()) { ("bellows", 35.0) } else { ("tube", 21.0) };
            if !miss.parts.contains(&id.to_string()) || less + 0.1 >= length {
                continue;
            }
            tried += 1;
            let shorter = match id {
                "bellows" => KIT.replace("[35, 60]", &format!("[{}, 60]", 35.0 - less - 0.05)),
                _ => KIT.replace("length_mm = 21", &format!("length_mm = {}", 21.0 - less - 0.05)),
            };
            assert!(reaches(&read(&shorter), &miss.parts, m), "{:?}: {}", miss.parts, miss.why);
        }
    }
    assert!(tried > 2, "{tried}");
}

#[test]
fn remedies_of_kits_of_chance() {
    let mut chance = Chance(5);
    let mut tried = 0;
    for _ in 0..60 {
        let mut text = KIT.to_string();
        for (field, value) in
            [("focal_length_mm = 90", 40 + chance.below(150)), ("length_mm = 40", 15 + chance.below(60))]
        {
            text = text.replace(field, &format!("{} = {value}", field.split(' ').next().unwrap()));
        }
        if chance.below(2) == 0 {
            text = text.replace("max_magnification = 0.12\n", "");
        }
        if chance.below(3) == 0 {
            text = text.replace(
                "max_magnification = 0.125",
                "focusing = \"internal\"\nclose_focus_mm = 700\nmax_magnification = 0.2",
            );
        }
        let m = 0.05 * 1.4f64.powi(chance.below(12) as i32);
        let reached = wanted(&read(&text), m);
        for miss in &reached.misses {
            tried += put_in(&text, miss, m);
        }
        for missing in &reached.missing {
            put_ring_in(&text, missing, m);
        }
    }
    assert!(tried > 200, "{tried}");
}
