//! Rolls whose truth is drawn: frames exposed, some dropped, the rest scanned in some order and measured. What is proposed as
//! sure must be the truth; what cannot be right must be marked.

use matching::{
    Direction, Film, Fit, Frame, Order, Proposals, Scan, Size, SortBy, Sureness, Trouble, by_code, by_name, by_order,
    troubles,
};
use proptest::prelude::*;

/// What was drawn.
#[derive(Debug, Clone)]
struct Drawn {
    film: Film,
    scans: Vec<Scan>,
    /// The frame that each scan shows.
    truth: Vec<usize>,
}

/// Magnifications of set-ups, from one that is met everywhere to some that lie close together.
const SIZES: [f64; 6] = [0.25, 0.5, 0.515, 0.98, 1.0, 2.0];

/// One frame as it is drawn: which set-up, whether its magnification is known, by how much the scan errs (in half-widths of
/// both), whether it was measured, whether the frame is dropped.
type One = (usize, bool, f64, bool, bool);

fn one() -> impl Strategy<Value = One> {
    // Errors up to the half-widths themselves: intervals that hold what they promise.
    (0..SIZES.len(), prop::bool::weighted(0.8), -1.0..1.0, prop::bool::weighted(0.6), prop::bool::weighted(0.25))
}

fn drawn() -> impl Strategy<Value = Drawn> {
    let rolls = prop::collection::vec(prop::collection::vec(one(), 1..9), 1..4);
    (rolls, 0usize..3, prop::bool::ANY).prop_map(|(rolls, direction, by_person)| scan_all(&rolls, direction, by_person))
}

fn scan_all(rolls: &[Vec<One>], direction: usize, by_person: bool) -> Drawn {
    let mut film = Film { rolls: (0..rolls.len()).map(|roll| format!("Roll {}", roll + 1)).collect(), frames: vec![] };
    let mut by_roll: Vec<Vec<(usize, Option<Size>)>> = vec![Vec::new(); rolls.len()];
    for (roll, frames) in rolls.iter().enumerate() {
        for (number, (setup, known, error, measured, dropped)) in frames.iter().enumerate() {
            let value = SIZES[*setup];
            let planned = Size { value, plus_minus: 0.01 * value };
            let index = film.frames.len();
            film.frames.push(Frame { size: known.then_some(planned), ..Frame::new(roll, number as u32 + 1) });
            let size = Size { value: value * (1.0 + error * 0.005), plus_minus: 0.005 * value };
            if !dropped {
                by_roll[roll].push((index, measured.then_some(size)));
            }
        }
    }
    match Direction::ALL[direction] {
        Direction::Forwards => {}
        Direction::Backwards => {
            by_roll.reverse();
            by_roll.iter_mut().for_each(|roll| roll.reverse());
        }
        Direction::RollsBackwards => by_roll.iter_mut().for_each(|roll| roll.reverse()),
    }
    let shown: Vec<(usize, Option<Size>)> = by_roll.into_iter().flatten().collect();
    let scan = |(count, (index, size)): (usize, &(usize, Option<Size>))| {
        let frame = &film.frames[*index];
        let name = if by_person {
            format!("r{}_{:02}.tif", frame.roll + 1, frame.number)
        } else {
            format!("scan{}.tif", count + 1)
        };
        Scan { size: *size, ..Scan::named(&name) }
    };
    let scans = shown.iter().enumerate().map(scan).collect();
    let truth = shown.iter().map(|(index, _)| *index).collect();
    Drawn { film, scans, truth }
}

fn wrong_among(found: &Proposals, drawn: &Drawn, least: Sureness) -> Vec<(usize, Option<usize>)> {
    let sure = found.proposals.iter().filter(|proposal| proposal.sureness >= least);
    sure.map(|p| (p.scan, p.frame)).filter(|(scan, frame)| *frame != Some(drawn.truth[*scan])).collect()
}

fn ways(drawn: &Drawn) -> Vec<Proposals> {
    let mut all: Vec<Proposals> = Direction::ALL
        .iter()
        .map(|direction| by_order(&drawn.film, &drawn.scans, Order { by: SortBy::Name, direction: *direction }))
        .collect();
    all.push(by_code(&drawn.film, &drawn.scans));
    all.push(by_name(&drawn.film, &drawn.scans));
    all
}

fn cases() -> ProptestConfig {
    let long = testkit::long();
    ProptestConfig { cases: if long { 20_000 } else { 1500 }, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(cases())]

    #[test]
    fn what_is_sure_is_right_whatever_was_dropped_shifted_or_turned_round(drawn in drawn()) {
        for (way, found) in ways(&drawn).iter().enumerate() {
            prop_assert_eq!(wrong_among(found, &drawn, Sureness::Sure), vec![], "way {}", way);
            prop_assert_eq!(found.proposals.len(), drawn.scans.len());
        }
    }

    #[test]
    fn numbers_that_a_person_gave_are_likely_or_better_only_where_they_are_right(drawn in drawn()) {
        let by_person = drawn.scans.iter().all(|scan| scan.name.starts_with('r'));
        if by_person {
            let found = by_name(&drawn.film, &drawn.scans);
            prop_assert_eq!(wrong_among(&found, &drawn, Sureness::Open), vec![]);
        }
    }

    #[test]
    fn the_truth_is_never_marked_as_wrong_and_is_among_the_candidates(drawn in drawn()) {
        let shown: Vec<Option<usize>> = drawn.truth.iter().map(|frame| Some(*frame)).collect();
        let marked = troubles(&drawn.film, &drawn.scans, &shown);
        let wrong = |trouble: &&Trouble| matches!(trouble, Trouble::Disagrees { .. } | Trouble::Shared { .. });
        prop_assert_eq!(marked.iter().find(wrong), None);
        for proposal in by_code(&drawn.film, &drawn.scans).proposals {
            let truth = drawn.truth[proposal.scan];
            if drawn.film.frames[truth].size.is_some() && drawn.scans[proposal.scan].size.is_some() {
                prop_assert!(proposal.candidates_in_all > matching::MOST_CANDIDATES || proposal.candidates.contains(&truth));
            }
        }
    }

    #[test]
    fn two_scans_exchanged_between_set_ups_are_marked(drawn in drawn(), first in 0usize..24, second in 0usize..24) {
        let mut shown: Vec<Option<usize>> = drawn.truth.iter().map(|frame| Some(*frame)).collect();
        if shown.len() < 2 {
            return Ok(());
        }
        let (first, second) = (first % shown.len(), second % shown.len());
        shown.swap(first, second);
        let marked = troubles(&drawn.film, &drawn.scans, &shown);
        for scan in [first, second] {
            let planned = shown[scan].and_then(|frame| drawn.film.frames[frame].size);
            let (Some(measured), Some(planned)) = (drawn.scans[scan].size, planned) else { continue };
            let known = marked.iter().any(|trouble| matches!(trouble, Trouble::Disagrees { scan: s, .. } if *s == scan));
            // Their intervals meet or they do not: by the definition of an interval, not by the crate's own rule.
            let apart = (measured.value - planned.value).abs() > measured.plus_minus + planned.plus_minus;
            prop_assert_eq!(known, apart);
        }
    }
}

fn size(value: f64) -> Option<Size> {
    Some(Size { value, plus_minus: 0.01 * value })
}

/// A roll with these magnifications.
fn roll(sizes: &[f64]) -> Film {
    let frame = |(number, m): (usize, &f64)| Frame { size: size(*m), ..Frame::new(0, number as u32 + 1) };
    Film { rolls: vec!["A".into()], frames: sizes.iter().enumerate().map(frame).collect() }
}

fn measured(sizes: &[f64]) -> Vec<Scan> {
    let scan = |(number, m): (usize, &f64)| Scan { size: size(*m), ..Scan::named(&format!("s{}.tif", number + 1)) };
    sizes.iter().enumerate().map(scan).collect()
}

fn forwards() -> Order {
    Order::default()
}

fn frames_of(found: &Proposals) -> Vec<Option<usize>> {
    found.proposals.iter().map(|proposal| proposal.frame).collect()
}

#[test]
fn a_blank_frame_shifts_the_rest_and_one_press_settles_it() {
    let mut film = roll(&[0.5, 0.5, 0.5, 1.0, 1.0, 2.0]);
    let scans = measured(&[0.5, 0.5, 0.5, 1.0, 2.0]);
    let found = by_order(&film, &scans, forwards());
    assert_eq!(frames_of(&found), [Some(0), Some(1), Some(2), Some(3), Some(5)]);
    assert_eq!(found.without_scan, [4]);
    assert_eq!(found.may_be_missing, [3, 4], "one of the two at life size");
    let sure: Vec<Sureness> = found.proposals.iter().map(|p| p.sureness).collect();
    assert_eq!(sure, [Sureness::Sure, Sureness::Sure, Sureness::Sure, Sureness::Open, Sureness::Sure]);
    film.frames[3].missing = true;
    let settled = by_order(&film, &scans, forwards());
    assert_eq!(frames_of(&settled), [Some(0), Some(1), Some(2), Some(4), Some(5)]);
    assert!(settled.proposals.iter().all(|p| p.sureness == Sureness::Sure), "{settled:?}");
    assert!(settled.without_scan.is_empty() && settled.may_be_missing.is_empty());
}

#[test]
fn scans_in_reverse_order_are_noticed() {
    let film = roll(&[0.25, 0.5, 1.0, 2.0]);
    let scans = measured(&[2.0, 1.0, 0.5, 0.25]);
    let found = by_order(&film, &scans, forwards());
    assert_eq!(found.better, Some(Direction::Backwards));
    let order = Order { direction: Direction::Backwards, ..forwards() };
    let found = by_order(&film, &scans, order);
    assert_eq!((frames_of(&found), found.better), (vec![Some(3), Some(2), Some(1), Some(0)], None));
    assert!(found.proposals.iter().all(|p| p.sureness == Sureness::Sure));
}

#[test]
fn without_measurements_the_order_is_likely_at_best() {
    let mut film = roll(&[0.5, 0.5, 0.5]);
    film.frames.iter_mut().for_each(|frame| frame.size = None);
    let scans: Vec<Scan> = ["s9", "s10", "s11"].map(Scan::named).into();
    let found = by_order(&film, &scans, forwards());
    assert!(found.proposals.iter().all(|p| p.sureness == Sureness::Likely));
    assert_eq!(frames_of(&found), [Some(0), Some(1), Some(2)], "9 comes before 10");
    // One frame too many: the last is taken to be unexposed, and that is only one of the ways.
    film.frames.push(Frame::new(0, 4));
    let found = by_order(&film, &scans, forwards());
    assert_eq!(frames_of(&found), [Some(0), Some(1), Some(2)]);
    assert!(found.proposals.iter().all(|p| p.sureness == Sureness::Open));
    assert_eq!(found.may_be_missing, [0, 1, 2, 3]);
}

#[test]
fn more_scans_than_frames_leave_the_worst_over_and_say_so() {
    let film = roll(&[0.5, 1.0]);
    let scans = measured(&[0.5, 0.7, 1.0]);
    let found = by_order(&film, &scans, forwards());
    assert_eq!(frames_of(&found), [Some(0), None, Some(1)]);
    assert_eq!(found.proposals[1].sureness, Sureness::Nothing);
    assert!(found.proposals.iter().all(|p| p.sureness < Sureness::Likely), "nothing is sure when one is too many");
    let marked = troubles(&film, &scans, &[Some(0), Some(1), Some(1)]);
    assert!(marked.contains(&Trouble::MoreScansThanFrames { scans: 3, frames: 2 }), "{marked:?}");
    assert!(marked.contains(&Trouble::Shared { frame: 1, scans: vec![1, 2] }), "{marked:?}");
    let off = marked.iter().find(|trouble| matches!(trouble, Trouble::Disagrees { scan: 1, frame: 1, .. }));
    assert!(off.is_some(), "0.7 against 1.0: {marked:?}");
}

#[test]
fn frames_that_were_not_logged_as_taken_come_last() {
    let mut film = roll(&[0.5, 0.5, 0.5]);
    film.frames[1].taken = false;
    let found = by_order(&film, &measured(&[0.5, 0.5]), forwards());
    assert_eq!((frames_of(&found), found.without_scan), (vec![Some(0), Some(2)], vec![1]));
}

#[test]
fn the_print_of_the_card_tells_frames_of_one_set_up_apart() {
    let mut film = roll(&[1.0, 1.0, 2.0]);
    film.frames[1].words = "control, card K7QPX".into();
    let mut scans = measured(&[1.0, 2.0, 0.5]);
    scans[0].print = Some("k7qpx".into());
    let found = by_code(&film, &scans).proposals;
    assert_eq!((found[0].frame, found[0].sureness, found[0].candidates_in_all), (Some(1), Sureness::Likely, 2));
    assert_eq!((found[1].frame, found[1].sureness), (Some(2), Sureness::Sure));
    assert_eq!((found[2].frame, found[2].sureness), (None, Sureness::Nothing), "half life size was never planned");
    assert_eq!(by_code(&film, &[Scan::named("x")]).proposals[0].frame, None);
}

#[test]
fn intervals_that_meet_agree() {
    let at = |value, plus_minus| Size { value, plus_minus };
    let fit = |a: Size, b: Size| (a.fit(b), b.fit(a));
    assert_eq!(fit(at(1.0, 0.02), at(1.029, 0.01)), (Fit::Agrees, Fit::Agrees));
    // 0.04 apart: beyond 0.03, within twice the root of 0.02² + 0.01² = 0.0447.
    assert_eq!(fit(at(1.0, 0.02), at(1.04, 0.01)), (Fit::Doubtful, Fit::Doubtful));
    assert_eq!(fit(at(1.0, 0.02), at(1.05, 0.01)), (Fit::Disagrees, Fit::Disagrees));
    assert_eq!(at(1.0, 0.0).fit(at(1.0005, 0.0)), Fit::Agrees, "nobody sets a stand to half a thousandth");
}

#[test]
fn a_roll_of_many_frames_is_matched_whole() {
    let sizes: Vec<f64> = (0..400).map(|n| SIZES[n % 4]).collect();
    let film = roll(&sizes);
    let kept: Vec<usize> = (0..400).filter(|n| n % 97 != 5).collect();
    let scans = measured(&kept.iter().map(|n| sizes[*n]).collect::<Vec<_>>());
    let found = by_order(&film, &scans, forwards());
    for proposal in &found.proposals {
        let truth = kept[proposal.scan];
        assert!(proposal.sureness != Sureness::Sure || proposal.frame == Some(truth));
    }
    assert_eq!(found.without_scan.len(), 5);
}
