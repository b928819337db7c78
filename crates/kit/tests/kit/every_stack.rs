//! What a kit reaches against every ordered choice of its parts.
//!
//! Brute force joins part to part through `Setup::resolve`, which knows neither heads nor classes, and finds what a stack
//! reaches by setting its bellows and its focusing step by step. What it must agree with:
//!
//! - A *way* is a choice of parts in order, where tubes and bellows that stand between the same neighbours of other kinds
//!   count in one order only: to the light they are one length.
//! - A *set-up* is all ways that are the same to the light: one body and mount of the head, converters of equal figures,
//!   equal lengths and equal draws behind and before the converter, and heads (the first lens with what is in front of it,
//!   or with the ring that it hangs on) of equal figures on whatever length. A ring's thickness belongs to the head.
//! - Step rings stand two in a row at most, and never lead back to a thread of the same row.

use crate::common::{Chance, read};
use kit::{Demand, Focus, Kind, Kit, Limits, Order, Reach, Setup, SetupError, SetupRequest, reach};
use optics::Figure;
use std::collections::{BTreeMap, BTreeSet};
use testkit::assert_close;

/// Both bodies, an adapter, and one or more of every kind.
const EVERYTHING: &str = r#"
[[body]]
id = "body"
frame_mm = [56, 56]
register_mm = 80
mount = "m"
[[body]]
id = "thin"
frame_mm = [24, 36]
register_mm = { value = 44, plus_minus = 0.05 }
mount = "n"
[[adapter]]
id = "m-on-n"
lens_mount = "m"
body_mount = "n"
length_mm = 36
[[lens]]
id = "ninety"
mount = "m"
focal_length_mm = 90
max_aperture = 2.8
pupil_ratio = 0.92
length_mm = 68
principal_separation_mm = 4
max_magnification = 0.125
register_mm = 80
thread_mm = 52
[[lens]]
id = "inside"
mount = "n"
focal_length_mm = 50
max_aperture = 2
pupil_ratio = 1.2
length_mm = 60
principal_separation_mm = 2
focusing = "internal"
close_focus_mm = 250
max_magnification = 0.3
thread_mm = 58
[[tube]]
id = "ten"
mount = "m"
length_mm = 10
[[tube]]
id = "ten-too"
mount = "m"
length_mm = 10
[[tube]]
id = "twenty"
mount = "m"
length_mm = 20
[[bellows]]
id = "bellows"
mount = "m"
draw_mm = [35, 140]
[[teleconverter]]
id = "converter"
mount = "m"
factor = 1.4
length_mm = 20
register_mm = 80.05
[[close_up_lens]]
id = "three"
power_dpt = 3
thread_mm = 58
[[close_up_lens]]
id = "three-too"
power_dpt = 3
thread_mm = 58
[[coupling_ring]]
id = "couple"
threads_mm = [58, 52]
[[reversing_ring]]
id = "ring"
mount = "m"
thread_mm = 52
thickness_mm = 4
[[step_ring]]
id = "up"
from_mm = 52
to_mm = 58
thickness_mm = 2
"#;

fn is_spacer(kit: &Kit, id: &str) -> bool {
    matches!(kit.part(id).unwrap().kind(), Kind::Tube | Kind::Bellows)
}

/// The parts as they are asked for, each bellows at a share of its range.
fn words(kit: &Kit, parts: &[String], share: impl Fn(&str) -> f64) -> Vec<String> {
    let word = |id: &String| match kit.part(id).unwrap().numbers("draw_mm")[..] {
        [from, to] => format!("{id}={}", from + share(id) * (to - from)),
        _ => id.clone(),
    };
    parts.iter().map(word).collect()
}

/// A way: what stands between the same neighbours in one order.
fn way(kit: &Kit, parts: &[String]) -> Vec<String> {
    let mut sorted: Vec<String> = Vec::new();
    for row in parts.chunk_by(|p, q| is_spacer(kit, p) && is_spacer(kit, q)) {
        let mut row = row.to_vec();
        row.sort();
        sorted.extend(row);
    }
    sorted
}

/// Step rings in a row, and how they lead from thread to thread.
fn steps_are_plain(kit: &Kit, parts: &[String]) -> bool {
    let is_step = |id: &String| kit.part(id).unwrap().kind() == Kind::StepRing;
    parts.chunk_by(|p, q| is_step(p) && is_step(q)).filter(|row| is_step(&row[0])).all(|row| {
        let threads =
            |id: &String| ["from_mm", "to_mm"].map(|field| kit.part(id).unwrap().number(field).unwrap().to_bits());
        let [first, second] = [row.first(), row.last()].map(|id| threads(id.unwrap()));
        // Two rings lead back when they have both threads in common.
        row.len() == 1 || (row.len() == 2 && BTreeSet::from(first) != BTreeSet::from(second))
    })
}

fn within(kit: &Kit, parts: &[String], limits: Limits) -> bool {
    let count = |kind| parts.iter().filter(|id| kit.part(id).unwrap().kind() == kind).count();
    count(Kind::Tube) <= limits.tubes
        && count(Kind::Bellows) <= limits.bellows
        && count(Kind::CloseUpLens) <= limits.close_ups
        && count(Kind::Teleconverter) <= limits.converters
        && count(Kind::Lens) <= limits.lenses
}

/// Every ordered choice of parts that joins, as ways.
fn every_way(kit: &Kit, limits: Limits) -> BTreeSet<Vec<String>> {
    let mut found = BTreeSet::new();
    let ids: Vec<String> = kit.parts().iter().map(|part| part.id().to_owned()).collect();
    for body in kit.of_kind(Kind::Body) {
        grow(kit, &ids, limits, &mut vec![body.id().to_owned()], &mut found);
    }
    found
}

fn grow(kit: &Kit, ids: &[String], limits: Limits, parts: &mut Vec<String>, found: &mut BTreeSet<Vec<String>>) {
    for id in ids {
        if parts.contains(id) {
            continue;
        }
        parts.push(id.clone());
        if within(kit, parts, limits) {
            let request = SetupRequest { parts: words(kit, parts, |_| 0.0), ..SetupRequest::default() };
            match Setup::resolve(kit, &request) {
                Ok(_) => {
                    if steps_are_plain(kit, parts) {
                        found.insert(way(kit, parts));
                    }
                    grow(kit, ids, limits, parts, found);
                }
                Err(SetupError::Order(Order::NoLens | Order::Dangling { .. })) => grow(kit, ids, limits, parts, found),
                Err(_) => {}
            }
        }
        parts.pop();
    }
}

/// Where the head begins: at the first lens, or at the reversing ring.
fn head_at(kit: &Kit, parts: &[String]) -> usize {
    let is_head = |id: &String| matches!(kit.part(id).unwrap().kind(), Kind::Lens | Kind::ReversingRing);
    parts.iter().position(is_head).unwrap()
}

fn nanometres(mm: f64) -> i64 {
    (mm * 1e6).round() as i64
}

/// What makes two ways one set-up.
type Key = (String, String, Vec<i64>, Vec<String>);

fn key(kit: &Kit, heads: &mut BTreeMap<Vec<String>, Vec<String>>, parts: &[String]) -> Key {
    let at = head_at(kit, parts);
    let part = |id: &String| kit.part(id).unwrap();
    let body = part(&parts[0]);
    let register = body.number("register_mm").unwrap();
    let mut lengths = Vec::new();
    let mut sum = [0.0, 0.0];
    for id in &parts[1..at] {
        match (part(id).kind(), &part(id).numbers("draw_mm")[..]) {
            (Kind::Teleconverter, _) => {
                let own = part(id).number("register_mm").unwrap_or(register);
                // A register within the uncertainty of both is the body's.
                let own = if (own - register).abs() < 0.1 { register } else { own };
                lengths.extend(sum.map(nanometres));
                lengths.extend(
                    [part(id).number("factor").unwrap(), part(id).number("length_mm").unwrap(), own].map(nanometres),
                );
                sum = [0.0, 0.0];
            }
            (_, [from, to]) => sum = [sum[0] + from, sum[1] + to - from],
            _ => sum[0] += part(id).number("length_mm").unwrap(),
        }
    }
    lengths.extend(sum.map(nanometres));
    let mount = part(&parts[at]).words("mount").unwrap().to_owned();
    let cell = [&parts[..1], &parts[at..]].concat();
    let figures = heads.entry(cell).or_insert_with(|| head_figures(kit, register, &mount, &parts[at..])).clone();
    (parts[0].clone(), mount, lengths, figures)
}

/// The figures of a head on lengths of its own mount, on a body of that mount and the same register.
fn head_figures(kit: &Kit, register: f64, mount: &str, head: &[String]) -> Vec<String> {
    let mut text = format!(
        "[[body]]\nid = \"probe-body\"\nframe_mm = [56, 56]\nregister_mm = {{ value = {register}, plus_minus = 0.1 }}\nmount = \"{mount}\"\n"
    );
    for length in [7, 33, 111, 290] {
        text += &format!("[[tube]]\nid = \"probe-{length}\"\nmount = \"{mount}\"\nlength_mm = {length}\n");
    }
    for id in head {
        text += &kit.part(id).unwrap().to_toml();
    }
    let probe = read(&text);
    let mut figures = Vec::new();
    for length in ["", "probe-7", "probe-33", "probe-111", "probe-290"] {
        for focus in [Focus::Infinity, Focus::Closest] {
            let mut parts = vec!["probe-body".to_string()];
            parts.extend((!length.is_empty()).then(|| length.to_string()));
            parts.extend(head.iter().cloned());
            let found = Setup::resolve(&probe, &SetupRequest { parts, focus, ..SetupRequest::default() });
            let found = found.ok().and_then(|setup| setup.numbers().figures(0.05).ok());
            let told =
                [Figure::Magnification, Figure::WorkingDistance, Figure::EffectiveFNumber, Figure::ExposureStops];
            figures.extend(told.map(|figure| match found.and_then(|found| found.get(figure)) {
                Some(value) => format!("{:.7e}", value + 1e-9),
                None => "none".into(),
            }));
        }
    }
    figures
}

/// The magnification at a setting; `None` when nothing real is sharp there or the subject does not clear the front.
fn magnification(kit: &Kit, parts: Vec<String>, focus: Focus) -> Option<f64> {
    let setup = Setup::resolve(kit, &SetupRequest { parts, focus, ..SetupRequest::default() }).ok()?;
    let figures = setup.numbers().figures(0.05).ok()?;
    let clears = figures.get(Figure::WorkingDistance).is_none_or(|distance| distance >= -1e-6);
    figures.get(Figure::Magnification).filter(|_| clears)
}

/// What a stack can be set to, as stretches of magnifications that it runs through.
fn stretches(kit: &Kit, parts: &[String]) -> Vec<[f64; 2]> {
    let bellows: Vec<&String> =
        parts.iter().filter(|id| !kit.part(id).unwrap().numbers("draw_mm").is_empty()).collect();
    let request = SetupRequest { parts: words(kit, parts, |_| 0.0), ..SetupRequest::default() };
    let setup = Setup::resolve(kit, &request).unwrap();
    let lens = setup.lens();
    let marks = [lens.number("close_focus_mm"), lens.number("max_magnification")];
    let focus_at = |share: f64| -> Option<Focus> {
        if share == 0.0 {
            return Some(Focus::Infinity);
        }
        if lens.words("focusing") == Some("internal") {
            let [closest, _] = [marks[0]?, marks[1]?];
            return Some(Focus::Distance(closest / share));
        }
        // Reversed, travel moves the seat and changes no magnification.
        let moves = setup.hold().facing == kit::Facing::Normal;
        setup.largest_travel().filter(|travel| moves && *travel > 0.0).map(|travel| Focus::Travel(share * travel))
    };
    let focuses = focus_at(1.0).is_some();
    // Focusing inside is no straight line.
    let steps = if lens.words("focusing") == Some("internal") { 36 } else { 12 };
    let at = |shares: &[f64]| {
        let draw = |id: &str| bellows.iter().position(|b| *b == id).map_or(0.0, |index| shares[index]);
        magnification(kit, words(kit, parts, draw), focus_at(shares[bellows.len()])?)
    };
    let movers = bellows.len() + usize::from(focuses);
    if movers == 0 {
        return at(&[0.0]).map(|m| [m, m]).into_iter().collect();
    }
    let mut found = Vec::new();
    for mover in 0..movers {
        // The others at either end.
        for corner in 0..1usize << (movers - 1) {
            let mut shares = vec![0.0; bellows.len() + 1];
            for (bit, other) in (0..movers).filter(|other| *other != mover).enumerate() {
                shares[other] = (corner >> bit & 1) as f64;
            }
            let mut with = |share: f64| {
                shares[mover] = share;
                at(&shares)
            };
            let mut before: Option<(f64, Option<f64>)> = None;
            for step in 0..=steps {
                let share = step as f64 / steps as f64;
                let here = with(share);
                if let Some((from, last)) = before {
                    found.extend(run(&mut with, [from, share], [last, here]));
                }
                before = Some((share, here));
            }
        }
    }
    found
}

/// The stretch between two neighbouring settings; where one of them does not work, up to where it begins to.
fn run(
    with: &mut impl FnMut(f64) -> Option<f64>,
    [mut low, mut high]: [f64; 2],
    ends: [Option<f64>; 2],
) -> Option<[f64; 2]> {
    match ends {
        [Some(p), Some(q)] => Some([p.min(q), p.max(q)]),
        [None, None] => None,
        [first, _] => {
            let (mut edge, begins) = (first.or(ends[1])?, first.is_some());
            let known = edge;
            for _ in 0..50 {
                let middle = 0.5 * (low + high);
                let here = with(middle);
                edge = here.unwrap_or(edge);
                if here.is_some() == begins { low = middle } else { high = middle }
            }
            Some([known.min(edge), known.max(edge)])
        }
    }
}

/// The ways of a set-up, and the stretches that it runs through.
type Found = (Vec<Vec<String>>, Vec<[f64; 2]>);

/// Brute force over a kit: every set-up with its ways and what it reaches.
struct Brute {
    setups: BTreeMap<Key, Found>,
}

impl Brute {
    fn of(kit: &Kit, limits: Limits) -> Self {
        let mut heads = BTreeMap::new();
        let mut setups: BTreeMap<Key, Found> = BTreeMap::new();
        for way in every_way(kit, limits) {
            let key = key(kit, &mut heads, &way);
            let entry = setups.entry(key).or_insert_with(|| (Vec::new(), stretches(kit, &way)));
            entry.0.push(way);
        }
        setups.retain(|_, (_, stretches)| !stretches.is_empty());
        Self { setups }
    }

    fn reaching(&self, wanted: f64) -> BTreeSet<Key> {
        let holds = |[low, high]: &[f64; 2]| wanted >= low * (1.0 - 1e-9) && wanted <= high * (1.0 + 1e-9);
        self.setups.iter().filter(|(_, (_, runs))| runs.iter().any(holds)).map(|(key, _)| key.clone()).collect()
    }

    /// Whether a figure lies so near an edge of some stretch that sampling cannot tell the side.
    fn is_near_an_edge(&self, wanted: f64) -> bool {
        let near = |edge: &f64| (edge / wanted - 1.0).abs() < 1e-4;
        self.setups.values().flat_map(|(_, runs)| runs).flatten().any(near)
    }
}

fn check(kit: &Kit, limits: Limits, wanted: &[f64]) -> u64 {
    let brute = Brute::of(kit, limits);
    let demand = |magnification, most| Demand { magnification, most, limits, ..Demand::default() };
    let mut heads = BTreeMap::new();
    let listed = reach(kit, &demand(None, usize::MAX)).unwrap();
    let by_key: BTreeMap<Key, &kit::ReachedSetup> =
        listed.setups.iter().map(|setup| (key(kit, &mut heads, &setup.parts), setup)).collect();
    let text = kit.to_toml();
    let named = |keys: &BTreeSet<Key>| {
        keys.iter()
            .map(|k| format!("{:?}", brute.setups.get(k).map_or_else(|| by_key[k].parts.clone(), |s| s.0[0].clone())))
            .collect::<Vec<_>>()
            .join("\n")
    };
    let (mine, theirs): (BTreeSet<Key>, BTreeSet<Key>) =
        (brute.setups.keys().cloned().collect(), by_key.keys().cloned().collect());
    let (missing, more): (BTreeSet<Key>, BTreeSet<Key>) =
        (mine.difference(&theirs).cloned().collect(), theirs.difference(&mine).cloned().collect());
    assert!(
        missing.is_empty() && more.is_empty(),
        "missing:\n{}\ntoo much:\n{}\n{text}",
        named(&missing),
        named(&more)
    );
    assert_eq!(by_key.len(), listed.setups.len(), "each set-up once\n{text}");
    assert_eq!(listed.total as usize, brute.setups.len());
    let ways: usize = brute.setups.values().map(|(ways, _)| ways.len()).sum();
    assert_eq!(listed.ways as usize, ways, "{text}");
    for (key, setup) in &by_key {
        let (ways, runs) = &brute.setups[key];
        assert_eq!(setup.ways, ways.len(), "{:?}\n{text}", setup.parts);
        assert!(ways.contains(&way(kit, &setup.parts)), "{:?}", setup.parts);
        for other in &setup.alternatives {
            assert!(ways.contains(&way(kit, other)), "{other:?} is not the same as {:?}\n{text}", setup.parts);
        }
        assert!(setup.alternatives.len() < ways.len() || ways.len() == 1);
        let low = runs.iter().map(|run| run[0]).fold(f64::INFINITY, f64::min);
        let high = runs.iter().map(|run| run[1]).fold(0.0, f64::max);
        // Focusing inside is no straight line: both sides sample it, in other steps.
        let inside = setup.parts.iter().any(|id| kit.part(id).unwrap().words("focusing") == Some("internal"));
        let off = if inside { 1e-3 } else { 1e-6 };
        assert_close!(setup.magnification.min, low, absolute = off * (1.0 + low), "{:?}\n{text}", setup.parts);
        assert_close!(setup.magnification.max, high, absolute = off * (1.0 + high), "{:?}\n{text}", setup.parts);
    }
    for &wanted in wanted {
        let reached = reach(kit, &demand(Some(wanted), usize::MAX)).unwrap();
        check_settings(kit, &reached, wanted);
        let found: BTreeSet<Key> = reached.setups.iter().map(|setup| key(kit, &mut heads, &setup.parts)).collect();
        if !brute.is_near_an_edge(wanted) {
            let expected = brute.reaching(wanted);
            let missing: BTreeSet<Key> = expected.difference(&found).cloned().collect();
            let more: BTreeSet<Key> = found.difference(&expected).cloned().collect();
            assert!(
                missing.is_empty() && more.is_empty(),
                "{wanted}: missing:\n{}\ntoo much:\n{}\n{text}",
                named(&missing),
                named(&more)
            );
            let ways: usize = expected.iter().map(|key| brute.setups[key].0.len()).sum();
            assert_eq!((reached.total as usize, reached.ways as usize), (expected.len(), ways), "{wanted}\n{text}");
        }
        for most in [0, 1, 3, 10] {
            let first = reach(kit, &demand(Some(wanted), most)).unwrap();
            assert_eq!((first.total, first.ways), (reached.total, reached.ways));
            assert_eq!(
                first.setups[..],
                reached.setups[..most.min(reached.setups.len())],
                "{wanted}: the first {most}\n{text}"
            );
        }
    }
    let first = reach(kit, &demand(None, 5)).unwrap();
    assert_eq!(first.setups[..], listed.setups[..listed.setups.len().min(5)]);
    listed.total
}

/// Every setting gives what was wanted, and the figures that it is listed with.
fn check_settings(kit: &Kit, reached: &Reach, wanted: f64) {
    for setup in &reached.setups {
        let setting = setup.setting.as_ref().unwrap_or_else(|| panic!("{wanted}: {:?} has no setting", setup.parts));
        let request = SetupRequest { parts: setting.parts.clone(), focus: setting.focus, ..SetupRequest::default() };
        let report = Setup::resolve(kit, &request).and_then(|setup| setup.report());
        let report = report.unwrap_or_else(|error| panic!("{:?} {}: {error}", setting.parts, setting.focus));
        for figure in Figure::ALL {
            let [listed, told] = [setting.figures.get(figure), report.figures.get(figure).map(|e| e.value)];
            assert_eq!(listed.is_some(), told.is_some(), "{}", figure.label());
            if let Some((listed, told)) = listed.zip(told) {
                assert_close!(told, listed, absolute = 1e-9 * (1.0 + listed.abs()), "{}", figure.label());
            }
        }
        let found = report.figures.get(Figure::Magnification).unwrap().value;
        assert_close!(found, wanted, relative = 3e-9, "{:?} {}", setting.parts, setting.focus);
        assert_eq!(
            report.warnings.iter().filter(|w| matches!(w, kit::Warning::Obstacle(_))).count(),
            setup.obstacles.len()
        );
    }
}

/// The entries of a kit without those of these ids.
fn without(text: &str, ids: &[&str]) -> Kit {
    let entries =
        text.split("[[").skip(1).filter(|entry| !ids.iter().any(|id| entry.contains(&format!("id = \"{id}\"\n"))));
    read(&entries.map(|entry| format!("[[{entry}")).collect::<String>())
}

#[test]
fn every_kind_at_once() {
    let kit = without(EVERYTHING, &["ten-too"]);
    let total = check(&kit, Limits::default(), &[0.05, 0.3, 0.8, 1.0, 2.2, 6.0]);
    assert!(total > 300, "{total}");
}

#[test]
fn equal_parts_are_alternatives() {
    let kit = without(EVERYTHING, &["converter", "couple", "thin", "m-on-n", "inside"]);
    let total = check(&kit, Limits::default(), &[0.1, 0.5, 1.3]);
    assert!(total > 20, "{total}");
    let reached = reach(&kit, &Demand::default()).unwrap();
    // Ten and ten, and twenty: one length, and behind each the two close-up lenses in either order.
    let parts = ["body", "twenty", "ninety"].map(String::from);
    let setup = reached.setups.iter().find(|setup| setup.parts == parts).unwrap();
    assert_eq!(setup.ways, 2);
    assert_eq!(setup.alternatives.len(), 1);
}

#[test]
fn two_bellows_around_a_converter() {
    let text = EVERYTHING.to_string() + "[[bellows]]\nid = \"small-bellows\"\nmount = \"m\"\ndraw_mm = [10, 33.3]\n";
    let kit = without(&text, &["thin", "m-on-n", "ten", "ten-too", "couple", "three-too", "up", "inside"]);
    let limits = Limits::everything(&kit);
    assert_eq!(limits.bellows, 2);
    let total = check(&kit, limits, &[0.2, 0.9, 1.7, 3.0]);
    assert!(total > 40, "{total}");
}

#[test]
fn openings_that_narrow_tell_stacks_apart_and_count_in_the_light() {
    let kit = without(
        EVERYTHING,
        &["thin", "m-on-n", "inside", "couple", "converter", "bellows", "up", "three", "three-too"],
    );
    let text = kit.to_toml();
    let narrow = text.replace("id = \"ten\"\n", "id = \"ten\"\nclear_mm = 12\n");
    assert_ne!(narrow, text);
    let kit = read(&narrow);
    let wanted = Demand { magnification: Some(0.4), ..Demand::default() };
    let reached = reach(&kit, &wanted).unwrap();
    let stacks: BTreeSet<Vec<String>> = reached.setups.iter().map(|setup| setup.parts.clone()).collect();
    for parts in [["body", "ten", "twenty", "ninety"], ["body", "ten-too", "twenty", "ninety"]] {
        assert!(stacks.contains(parts.map(String::from).as_slice()), "{stacks:?}");
    }
    check_settings(&kit, &reached, 0.4);
    for setup in &reached.setups {
        let light = setup.at_wanted(Figure::ExposureStops).unwrap();
        assert!(
            setup.stops.min <= light + 1e-9 && light <= setup.stops.max + 1e-9,
            "{:?}: {light} {:?}",
            setup.parts,
            setup.stops
        );
        let is_narrow = setup.parts.contains(&"ten".to_string());
        // f/2.8 of 90 mm is 32 mm wide: 12 mm cost some stops.
        assert_eq!(light > 2.0, is_narrow, "{:?}: {light}", setup.parts);
    }
}

/// A small kit of chance.
fn kit_of_chance(chance: &mut Chance) -> Kit {
    let mut text = String::new();
    let thread = |chance: &mut Chance| ["49", "52", "58"][chance.below(3)];
    let mount = |chance: &mut Chance| ["m", "m", "n"][chance.below(3)];
    text += "[[body]]\nid = \"body\"\nframe_mm = [56, 56]\nregister_mm = 74\nmount = \"m\"\n";
    if chance.below(2) == 0 {
        text += "[[body]]\nid = \"thin\"\nframe_mm = [24, 36]\nregister_mm = 40\nmount = \"n\"\n";
        text += "[[adapter]]\nid = \"m-on-n\"\nlens_mount = \"m\"\nbody_mount = \"n\"\nlength_mm = 34\n";
    } else if chance.below(2) == 0 {
        text += "[[adapter]]\nid = \"n-on-m\"\nlens_mount = \"n\"\nbody_mount = \"m\"\nlength_mm = 12\n";
    }
    for index in 0..1 + chance.below(2) {
        let f = [28, 50, 80, 120, 180][chance.below(5)];
        text += &format!(
            "[[lens]]\nid = \"lens-{index}\"\nmount = \"{}\"\nfocal_length_mm = {f}\nmax_aperture = {}\npupil_ratio = {}\n\
             length_mm = {}\nprincipal_separation_mm = {}\nthread_mm = {}\n",
            mount(chance),
            [2, 4, 8][chance.below(3)],
            [0.7, 1.0, 1.6][chance.below(3)],
            // No whole number, so that nothing just touches.
            20.37 + chance.below(60) as f64,
            [-8, 0, 5][chance.below(3)],
            thread(chance)
        );
        text += match chance.below(4) {
            0 => "max_magnification = 0.25\n".into(),
            1 => format!(
                "focusing = \"internal\"\nclose_focus_mm = {}\nmax_magnification = 0.4\n",
                // Shorter at the closest mark, or longer: 4.9 focal lengths there.
                f64::from(f) * 4.9 * [0.7, 0.9, 1.05][chance.below(3)]
            ),
            2 => format!("close_focus_mm = {}\n", 8 * f),
            _ => String::new(),
        }
        .as_str();
        if chance.below(2) == 0 {
            text += &format!("register_mm = {}\n", [40, 60, 74][chance.below(3)]);
        }
        if chance.below(4) == 0 {
            text += "iris = \"coupled\"\n";
        }
        if chance.below(4) == 0 {
            text += "shutter_s = [1, 0.5]\n";
        }
    }
    for index in 0..chance.below(3) {
        let linkage = if chance.below(2) == 0 { "linkage = true\n" } else { "" };
        text += &format!(
            "[[tube]]\nid = \"tube-{index}\"\nmount = \"{}\"\nlength_mm = {}\n{linkage}",
            mount(chance),
            8 + 8 * chance.below(4)
        );
    }
    if chance.below(2) == 0 {
        text += &format!("[[bellows]]\nid = \"bellows\"\nmount = \"{}\"\ndraw_mm = [30, 190]\n", mount(chance));
    }
    if chance.below(3) == 0 {
        text += &format!(
            "[[teleconverter]]\nid = \"converter\"\nmount = \"{}\"\nfactor = {}\nlength_mm = 24\n",
            mount(chance),
            [1.4, 2.0][chance.below(2)]
        );
        text += ["", "register_mm = 60\n", "register_mm = 95\n"][chance.below(3)];
    }
    for index in 0..chance.below(3) {
        text += &format!(
            "[[close_up_lens]]\nid = \"plus-{index}\"\npower_dpt = {}\nthread_mm = {}\n",
            [2, 4, 10][chance.below(3)],
            thread(chance)
        );
    }
    for index in 0..chance.below(3) {
        let (from, to) = [(49, 52), (52, 58), (49, 58), (58, 52)][chance.below(4)];
        text += &format!(
            "[[step_ring]]\nid = \"step-{index}\"\nfrom_mm = {from}\nto_mm = {to}\nthickness_mm = {}\n",
            chance.below(4)
        );
    }
    if chance.below(2) == 0 {
        text += &format!("[[coupling_ring]]\nid = \"couple\"\nthreads_mm = [{}, {}]\n", thread(chance), thread(chance));
    }
    if chance.below(2) == 0 {
        text += &format!(
            "[[reversing_ring]]\nid = \"ring\"\nmount = \"{}\"\nthread_mm = {}\n",
            mount(chance),
            thread(chance)
        );
    }
    read(&text)
}

#[test]
fn kits_of_chance() {
    let mut total = 0;
    for seed in 0..100 {
        let mut chance = Chance(seed);
        let kit = kit_of_chance(&mut chance);
        let wanted: Vec<f64> = (0..3).map(|_| 0.03 * 1.6f64.powi(chance.below(10) as i32)).collect();
        total += check(&kit, Limits::default(), &wanted);
    }
    assert!(total > 1000, "{total}");
}
