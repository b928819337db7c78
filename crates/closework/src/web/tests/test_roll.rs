//! A test roll, from the question to the notebook and back.

use axum::http::StatusCode;
use notebook::{FrameDraft, FrameState, JobId, RollDraft};

use super::House;
use crate::demo;
use crate::test_roll::Kept;

fn furnished() -> House {
    let house = House::new();
    house.app.with_notebook(demo::enter_for_tests).expect("example");
    house
}

const NORMAL: &str = "copy-stand-6x6,bellows,normal-85";
const LONG: &str = "copy-stand-6x6,bellows,long-160";

/// The question with two lenses on the bellows, on new rolls of twelve.
fn question(new: u32, more: &[(&str, &str)]) -> Vec<(String, String)> {
    let base = [("asked", "1"), ("setup", NORMAL), ("setup", LONG), ("tubes", "on"), ("frames", "12")];
    let mut fields: Vec<(String, String)> =
        base.iter().chain(more).map(|(n, v)| (n.to_string(), v.to_string())).collect();
    fields.push(("new".into(), new.to_string()));
    fields
}

fn address(fields: &[(String, String)]) -> String {
    let query: String = form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
    format!("/jobs/1/test-roll?{query}")
}

/// The values of the hidden fields `on` of the first form.
fn on(page: &str) -> Vec<String> {
    let form = page.split("<form class=\"test-frames\"").nth(1).expect("frames").split("</form>").next().unwrap();
    let values = form.split("name=\"on\" value=\"").skip(1);
    values.map(|rest| rest.split('"').next().unwrap().to_owned()).collect()
}

async fn save(house: &House, fields: &[(String, String)], page: &str) -> super::Answer {
    let on = on(page);
    let all = fields.iter().cloned().chain(on.into_iter().map(|frames| ("on".to_owned(), frames)));
    let all: Vec<(String, String)> = all.chain([("title".into(), "Test".into())]).collect();
    let pairs: Vec<(&str, &str)> = all.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    house.post("/jobs/1/test-roll", &pairs).await
}

#[tokio::test]
async fn a_question_becomes_frames_in_the_notebook() {
    let house = furnished();
    let first = house.get("/jobs/1/test-roll").await;
    assert_eq!(first.status, StatusCode::OK);
    assert!(first.text().contains("Brought to one size"), "set-ups of the job are suggested: {}", first.text());
    let fields = question(1, &[]);
    let page = house.get(&address(&fields)).await.text();
    for words in ["Brought to one size", "What these frames tell", "The printed card with", "Save rolls and frames"] {
        assert!(page.contains(words), "“{words}” is missing");
    }
    assert!(!page.contains("NaN") && !page.contains("cannot be kept"), "{page}");
    let rolls_before = house.app.with_notebook(|book| book.rolls(JobId(1))).unwrap().len();
    let answer = save(&house, &fields, &page).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text());
    let rolls = house.app.with_notebook(|book| book.rolls(JobId(1))).unwrap();
    assert_eq!(rolls.len(), rolls_before + 1);
    let roll = rolls.last().unwrap();
    assert_eq!(roll.frames, Some(12));
    let kept: Kept = serde_json::from_str(&roll.plan).expect("the question is kept");
    assert_eq!(kept.set_ups, [NORMAL, LONG]);
    let frames = house.app.with_notebook(|book| book.frames(roll.id)).unwrap();
    assert!((4..=12).contains(&frames.len()));
    for (place, frame) in frames.iter().enumerate() {
        assert_eq!(frame.number as usize, place + 1, "numbers without a gap");
        assert!(frame.purpose.ends_with('.') && frame.f_number.is_some() && !frame.slot.is_empty(), "{frame:?}");
        assert!(frame.parts.iter().any(|word| word.starts_with("bellows=")), "the draw is set: {frame:?}");
        let request = kit::SetupRequest {
            parts: frame.parts.clone(),
            focus: frame.focus.parse().unwrap(),
            f_number: frame.f_number,
            coc_mm: None,
        };
        let kit = house.app.with_notebook(|book| crate::web::kit_book::read_kit(book)).ok().unwrap();
        // The kit's own optics say that every frame is at the size that was promised.
        let report = kit::Setup::resolve(&kit, &request).unwrap().report().unwrap();
        let size = report.figures.get(optics::Figure::Magnification).unwrap().value;
        testkit::assert_close!(size, kept.groups[0].magnification, relative = 0.02);
    }
    assert!(house.get("/jobs/1").await.text().contains(&frames[0].label), "they stand with the job's rolls");
}

#[tokio::test]
async fn frames_are_moved_repeated_and_taken_off_by_buttons() {
    let house = furnished();
    let fields = question(2, &[("apertures", "1")]);
    let page = house.get(&address(&fields)).await.text();
    let before = on(&page);
    let count = |rolls: &[String]| {
        rolls.iter().map(|on| on.split(',').filter(|slot| !slot.is_empty()).count()).collect::<Vec<_>>()
    };
    let press = async |what: &str, on: &[String]| {
        let with =
            on.iter().map(|frames| ("on".to_owned(), frames.clone())).chain([("do".to_owned(), what.to_owned())]);
        let answer = house.get(&address(&fields.iter().cloned().chain(with).collect::<Vec<_>>())).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{what}");
        let next = answer.header("location").to_owned();
        assert!(!next.contains("do="), "a reload does nothing: {next}");
        house.get(next.split('#').next().unwrap()).await.text()
    };
    let first: Vec<&str> = before[0].split(',').collect();
    let down = on(&press("down.0.0", &before).await);
    let moved: Vec<&str> = down[0].split(',').collect();
    assert_eq!([moved[0], moved[1]], [first[1], first[0]]);
    assert_eq!(on(&press("up.0.1", &down).await), before, "up undoes down");
    let repeated = press("repeat.0.1", &before).await;
    assert_eq!(count(&on(&repeated))[0], first.len() + 1);
    assert!(!repeated.contains("cannot be kept"), "a repeat is a take of its own");
    let off = on(&press("off.0.0", &before).await);
    assert_eq!(off[0].split(',').next(), Some(first[1]));
    let other = on(&press("move.0.1.1.0", &before).await);
    assert_eq!(other[1].split(',').next(), Some(first[1]), "dragged to the other roll");
    assert_eq!(on(&press("up.9.9", &before).await), before, "what is not there is not moved");
    let with_own =
        [("add_setup", "1"), ("add_aperture", "0"), ("add_step", "0"), ("add_for", "own"), ("add_roll", "1")];
    let with =
        with_own.map(|(n, v)| (n.to_owned(), v.to_owned())).into_iter().chain([("do".to_owned(), "add".to_owned())]);
    let answer = house.get(&address(&fields.iter().cloned().chain(with).collect::<Vec<_>>())).await;
    let added = house.get(answer.header("location").split('#').next().unwrap()).await.text();
    assert!(added.contains("A frame of your own with B"), "{added}");
}

#[tokio::test]
async fn a_plan_that_does_not_fit_says_why_and_is_not_kept() {
    let house = furnished();
    let mut fields = question(1, &[]);
    fields.retain(|(name, _)| name != "frames");
    fields.push(("frames".into(), "2".into()));
    let slots = "start.0.0.0.0,compare.1.0.0.0,end.0.0.1.0";
    let with: Vec<_> = fields.iter().cloned().chain([("on".to_owned(), slots.to_owned())]).collect();
    let page = house.get(&address(&with)).await.text();
    assert!(page.contains("has 2 frames left, and 3 are planned on it"), "{page}");
    let answer = save(&house, &fields, &page).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text().contains("Roll 1 has 2 frames left"));
    assert!(!house.app.with_notebook(|book| book.rolls(JobId(1))).unwrap().iter().any(|roll| !roll.plan.is_empty()));
}

#[tokio::test]
async fn planning_again_goes_around_what_was_shot() {
    let house = furnished();
    let fields = question(1, &[]);
    let page = house.get(&address(&fields)).await.text();
    save(&house, &fields, &page).await;
    let roll = house.app.with_notebook(|book| book.rolls(JobId(1))).unwrap().pop().unwrap();
    let frames = house.app.with_notebook(|book| book.frames(roll.id)).unwrap();
    for frame in &frames[..3] {
        let shot = FrameDraft { state: FrameState::Shot, ..frame.draft.clone() };
        house.app.with_notebook(|book| book.update_frame(frame.id, &shot)).unwrap();
    }
    // The page comes back to the earlier plan by itself.
    let again = house.get("/jobs/1/test-roll").await.text();
    assert!(again.contains("after 3 that stay as they are"), "{again}");
    let first_slots = on(&again);
    assert!(!first_slots[0].contains(&frames[1].slot), "nothing is taken twice");
    let mut known = question(0, &[]);
    known.push(("roll".into(), roll.id.to_string()));
    let answer = save(&house, &known, &again).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text());
    let now = house.app.with_notebook(|book| book.frames(roll.id)).unwrap();
    assert_eq!(
        now[..3].iter().map(|frame| frame.id).collect::<Vec<_>>(),
        frames[..3].iter().map(|frame| frame.id).collect::<Vec<_>>()
    );
    assert!(now[..3].iter().all(|frame| frame.state == FrameState::Shot));
    let slots: std::collections::BTreeSet<&str> = now.iter().map(|frame| frame.slot.as_str()).collect();
    assert_eq!(slots.len(), now.len(), "every slot once");
    assert_eq!(now[3].number, 4, "the first free number");
}

#[tokio::test]
async fn what_was_shot_keeps_its_meaning_under_another_plan() {
    let house = furnished();
    let fields = question(1, &[("effective", "28 20")]);
    let page = house.get(&address(&fields)).await.text();
    save(&house, &fields, &page).await;
    let roll = house.app.with_notebook(|book| book.rolls(JobId(1))).unwrap().pop().unwrap();
    let frames = house.app.with_notebook(|book| book.frames(roll.id)).unwrap();
    let of_long = |frame: &&notebook::Frame| frame.slot.starts_with("compare.1.");
    let shot: Vec<notebook::Frame> = frames.iter().take(8).cloned().collect();
    assert!(shot.iter().any(|frame| of_long(&frame)), "{frames:?}");
    for frame in &shot {
        let draft = FrameDraft { state: FrameState::Shot, ..frame.draft.clone() };
        house.app.with_notebook(|book| book.update_frame(frame.id, &draft)).unwrap();
    }
    // The long lens alone, and first: what was set-up 1 is set-up 0, and the normal lens has no place.
    let mut other: Vec<(String, String)> =
        question(0, &[("effective", "28 20")]).into_iter().filter(|(_, value)| value != NORMAL).collect();
    other.push(("roll".into(), roll.id.to_string()));
    let page = house.get(&address(&other)).await.text();
    assert_eq!(save(&house, &other, &page).await.status, StatusCode::SEE_OTHER);
    for before in &shot {
        let now = house.app.with_notebook(|book| book.frame(before.id)).unwrap().unwrap();
        let expected = match before.slot.strip_prefix("compare.1.") {
            Some(rest) => format!("compare.0.{rest}"),
            None => format!("earlier:{}", before.slot),
        };
        assert_eq!(now.slot, expected);
        assert_eq!(now.purpose, before.purpose, "what it was taken for stays");
    }
}

#[tokio::test]
async fn frames_planned_by_hand_keep_their_numbers() {
    let house = furnished();
    let draft = RollDraft { title: "Mine".into(), frames: Some(6), ..RollDraft::default() };
    let roll = house.app.with_notebook(|book| book.add_roll(JobId(1), &draft)).unwrap();
    let mine = FrameDraft { number: 2, label: "The beetle itself".into(), ..FrameDraft::default() };
    house.app.with_notebook(|book| book.add_frame(roll, &mine)).unwrap();
    let mut fields = question(0, &[]);
    fields.push(("roll".into(), roll.to_string()));
    let page = house.get(&address(&fields)).await.text();
    save(&house, &fields, &page).await;
    let frames = house.app.with_notebook(|book| book.frames(roll)).unwrap();
    assert_eq!(frames.iter().map(|frame| frame.number).collect::<Vec<_>>(), [1, 2, 3, 4, 5, 6]);
    assert_eq!(frames[1].label, "The beetle itself");
}

#[tokio::test]
async fn a_frame_logged_meanwhile_stops_the_save() {
    let house = furnished();
    let draft = RollDraft { title: "Mine".into(), frames: Some(12), ..RollDraft::default() };
    let roll = house.app.with_notebook(|book| book.add_roll(JobId(1), &draft)).unwrap();
    let mut fields = question(0, &[]);
    fields.push(("roll".into(), roll.to_string()));
    let page = house.get(&address(&fields)).await.text();
    let shot = FrameDraft { number: 5, state: FrameState::Shot, ..FrameDraft::default() };
    house.app.with_notebook(|book| book.add_frame(roll, &shot)).unwrap();
    // Twelve frames no longer fit behind number 5.
    let answer = save(&house, &fields, &page).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(house.app.with_notebook(|book| book.frames(roll)).unwrap().len(), 1, "nothing was written");
}

#[tokio::test]
async fn refusals_are_said_in_words() {
    let house = furnished();
    let with = |more: &[(&str, &str)]| {
        let base = [("asked", "1"), ("new", "1")];
        let fields: Vec<(String, String)> =
            base.iter().chain(more).map(|(n, v)| (n.to_string(), v.to_string())).collect();
        address(&fields)
    };
    for (more, words) in [
        (vec![], "Choose the set-ups"),
        (vec![("setup", NORMAL), ("setup", NORMAL)], "is chosen twice"),
        (vec![("setup", "copy-stand-6x6,nothing")], "nothing"),
        (vec![("setup", "tube-26,normal-85")], "does not begin with a body"),
        (vec![("setup", NORMAL), ("setup", "copy-stand-6x6,long-160")], "share no magnification"),
        (vec![("setup", NORMAL), ("effective", "16 x")], "is no list of f-numbers"),
        (vec![("setup", NORMAL), ("setup", LONG), ("effective", "900")], "no two set-ups can be set to the same"),
        (vec![("setup", NORMAL), ("scatter", "none")], "is not a number"),
        (vec![("setup", NORMAL), ("frames", "10000")], "outside 1 to 1000"),
    ] {
        let answer = house.get(&with(&more)).await;
        assert_eq!(answer.status, StatusCode::OK, "{more:?}");
        assert!(
            answer.text().contains(words) || answer.text().to_lowercase().contains(words),
            "{more:?} does not say “{words}”"
        );
    }
    let none = house.get(&with(&[("setup", NORMAL)]).replace("new=1", "new=0")).await.text();
    assert!(none.contains("have no frame left"), "{none}");
    assert_eq!(house.get("/jobs/99/test-roll").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn other_tubes_bring_a_lens_to_the_size_of_the_others() {
    let house = furnished();
    // The normal lens bare reaches 0.117 at its closest mark; on tubes of the kit it comes to the long lens's size.
    let base = [("asked", "1"), ("new", "1"), ("setup", "copy-stand-6x6,normal-85"), ("setup", LONG)];
    let fields = |more: &[(&str, &str)]| -> Vec<(String, String)> {
        base.iter().chain(more).map(|(n, v)| (n.to_string(), v.to_string())).collect()
    };
    let with = house.get(&address(&fields(&[("tubes", "on")]))).await.text();
    assert!(with.contains("on other tubes") && with.contains("Brought to one size"), "{with}");
    assert!(
        with.contains("A, Tube, ") || with.contains("A, Bellows · Normal"),
        "frames name what stands there: {with}"
    );
    let without = house.get(&address(&fields(&[]))).await.text();
    assert!(without.contains("share no magnification"), "{without}");
}
