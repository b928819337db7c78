//! Predictions on the example's kit, whose lenses have forms, and on kits whose lenses have none.

use notebook::{JobId, Notebook, PartRecord};
use testkit::assert_close;

use super::super::tests::Bench;
use super::super::{prepare, verdict};
use super::{answer_words, foresee, foresee_now};
use crate::bench;
use crate::documents::foreseen::ForeseenDocument;
use crate::documents::verdict::{SentenceKind, VerdictSettings};

/// The example's first job with its frames, none of them scanned.
fn example() -> (Notebook, JobId) {
    let mut book = Notebook::in_memory().expect("notebook");
    crate::demo::enter_for_tests(&mut book).expect("the example");
    let job = book.jobs().expect("jobs")[0].id;
    (book, job)
}

fn wish(book: &mut Notebook, document: &str) {
    let kind = document.split(['[', ']']).find(|word| !word.is_empty()).expect("a table");
    let id = document.split("id = \"").nth(1).and_then(|rest| rest.split('"').next()).expect("an id");
    let record = PartRecord { kind: kind.into(), id: id.into(), document: document.into() };
    book.add_wish(&record).expect("wished");
}

fn foreseen(book: &Notebook, job: JobId) -> ForeseenDocument {
    foresee_now(&prepare(book, Some(job), VerdictSettings::default()).expect("prepared"))
}

#[test]
fn set_ups_without_a_measured_frame_are_judged_as_predicted_and_the_verdict_stays_as_it_was() {
    let (book, job) = example();
    let before = verdict(&book, Some(job), VerdictSettings::default()).expect("a verdict");
    let prepared = prepare(&book, Some(job), VerdictSettings::default()).expect("prepared");
    let found = foresee_now(&prepared);
    assert_eq!(prepared.document(), before, "predictions must not touch what was measured");
    assert!(before.foreseen.is_none() && before.uses[0].ranked.iter().all(|ranked| ranked.answer == "undecided"));
    // Four frames of four set-ups were taken and none is measured; what the kit reaches besides comes with them.
    assert_eq!(found.set_ups.iter().filter(|set_up| set_up.tried).count(), 4);
    assert!(found.set_ups.iter().all(|set_up| set_up.owned && !set_up.forms.is_empty()), "{:?}", found.set_ups);
    assert!(found.label.contains("predicted, not measured: a form, not your lens"));
    let ranked = &found.uses[0].ranked;
    assert!(ranked.windows(2).all(|pair| pair[0].probability >= pair[1].probability || !pair[1].missing.is_empty()));
    assert!(ranked.iter().flat_map(|ranked| &ranked.findings).all(|finding| finding.basis == "predicted"));
    // Draws as they can be set.
    let fine = |word: &&String| word.split_once('=').is_some_and(|(_, mm)| mm.len() > 5);
    assert!(!found.set_ups.iter().flat_map(|set_up| &set_up.parts).any(|word| fine(&word)), "{:?}", found.set_ups);
    let best = found.sentences.iter().find(|said| said.about[0] == "job-1").expect("said");
    let kind = if ranked[0].answer == "likely serves" { SentenceKind::Best } else { SentenceKind::Perhaps };
    assert_eq!(best.kind, kind, "{best:?}");
    assert!(best.text.contains("a predicted chance of"), "{}", best.text);
    // Every traced figure is wide, that of a perfectly sharp middle a twentieth of itself at the least.
    let sharp = found.set_ups.iter().flat_map(|set_up| &set_up.figures).filter(|f| f.what.starts_with("resolution"));
    let shares: Vec<f64> = sharp.map(|figure| figure.figure.plus_minus / figure.figure.value).collect();
    assert!(!shares.is_empty() && shares.iter().all(|share| *share > 0.05), "{shares:?}");
}

#[test]
fn a_wish_without_frames_is_answered_by_prediction() {
    let (mut book, job) = example();
    wish(
        &mut book,
        "[[close_up_lens]]\nid = \"plus-3\"\nname = \"Close-up lens +3\"\npower_dpt = 3\nthread_mm = 62\nmake = \"achromat\"\nprice = 50\ncurrency = \"thaler\"\n",
    );
    wish(
        &mut book,
        "[[lens]]\nid = \"macro\"\nname = \"Close-up lens of 120 mm\"\nmount = \"wide-bayonet\"\nfocal_length_mm = 120\nmax_aperture = 4\nlength_mm = 60\n",
    );
    let found = foreseen(&book, job);
    let of = |part: &str| found.wishes.iter().find(|wish| wish.part == part).expect("wished");
    let glass = of("plus-3");
    assert_eq!((glass.price, glass.why_not.as_str()), (Some(50.0), ""));
    let gain = &glass.uses[0];
    let set_up = found.set_ups.iter().find(|set_up| set_up.id == gain.set_up).expect("traced");
    assert!(!set_up.owned && set_up.parts.iter().any(|part| part == "plus-3"), "{set_up:?}");
    assert!((0.0..=1.0).contains(&gain.probability) && gain.without.is_some());
    let buy: Vec<&str> =
        found.sentences.iter().filter(|said| said.kind == SentenceKind::Buy).map(|said| said.text.as_str()).collect();
    assert_eq!(buy.len(), 1, "{buy:?}");
    assert!(buy[0].starts_with("Buying Close-up lens +3 for 50\u{a0}thaler is"), "{buy:?}");
    // A lens without a form cannot be traced, and says what to do.
    assert!(of("macro").uses.is_empty(), "{:?}", of("macro"));
    assert!(of("macro").why_not.contains("choose the form nearest to it"), "{:?}", of("macro"));
}

#[test]
fn without_forms_nothing_is_predicted() {
    let bench = Bench::new();
    let found = foreseen(&bench.book, bench.job);
    assert!(found.set_ups.is_empty() && found.kit.is_none() && found.check.is_none(), "{found:?}");
    assert!(
        found
            .silent
            .iter()
            .all(|silent| silent.why.contains("design form") && silent.page.ends_with("#field-design_form"))
    );
    assert!(!found.silent.is_empty());
}

#[test]
fn a_measured_set_up_is_not_judged_as_predicted() {
    let (mut book, job) = example();
    let draft = |form: &str| PartRecord {
        kind: "lens".into(),
        id: "long-160".into(),
        document: format!(
            "[[lens]]\nid = \"long-160\"\nmount = \"wide-bayonet\"\nfocal_length_mm = 160\nmax_aperture = 5.6\nlength_mm = 98\nthread_mm = 62\n{form}"
        ),
    };
    let with = foreseen(&book, job).set_ups.len();
    // Without its form the lens is gone from what is predicted, and named.
    book.update_part("long-160", &draft("")).expect("kept");
    let without = foreseen(&book, job);
    assert!(without.set_ups.len() < with);
    assert!(without.set_ups.iter().all(|set_up| set_up.parts.iter().all(|part| part != "long-160")));
    assert!(without.silent.iter().any(|silent| silent.why.contains("\"long-160\"")), "{:?}", without.silent);
}

#[test]
fn what_was_measured_counts_as_measured_in_the_kit_with_predictions() {
    // Two set-ups measured, no form anywhere: the kit with predictions has nothing but them to go by.
    let bench = Bench::compared();
    let prepared = prepare(&bench.book, Some(bench.job), VerdictSettings::default()).expect("prepared");
    let found = foresee_now(&prepared);
    let measured = prepared.document().kit.expect("a kit").parts;
    assert_eq!(found.kit.expect("a kit").parts, measured);
}

#[test]
fn tracing_that_is_ended_gives_nothing_and_what_is_known_comes_at_once() {
    let (book, job) = example();
    let prepared = prepare(&book, Some(job), VerdictSettings::default()).expect("prepared");
    assert!(foresee(&prepared, &|_, _| None).is_none());
    let all = foresee_now(&prepared);
    let again = foresee(&prepared, &|setup, asked| bench::predicted_already(setup, asked)).expect("known");
    assert_eq!(again, all);
    let text = crate::documents::to_json(&all).expect("text");
    assert_eq!(serde_json::from_str::<ForeseenDocument>(&text).expect("read"), all);
}

#[test]
fn a_prediction_is_never_more_than_likely() {
    use verdict::Answer::{FallsShort, Serves, Undecided};
    assert_eq!([Serves, Undecided, FallsShort].map(answer_words), ["likely serves", "may serve", "likely falls short"]);
}

#[test]
fn figures_come_to_the_subject_with_every_doubt_in_its_place() {
    use crate::bench::{Chain, Foretold, ForetoldPlace, PredictedFigures};
    use optics::Estimate;
    use verdict::enough::Quantity;
    let told = |value: f64| Foretold { value, of_form: 6.0, of_focus: 3.0, of_chain: 2.0, others: vec![] };
    let figures = PredictedFigures {
        forms: vec![("normal".into(), crate::bench::Design::Form(rays::form("double-gauss-1954").expect("a form")))],
        others: vec![],
        focus_mm: 0.1,
        f_number: 16.0,
        places: vec![ForetoldPlace {
            film_mm: 20.0,
            resolution: vec![Some(told(40.0))],
            contrast: vec![],
            fringing_um: Some(told(8.0)),
        }],
    };
    let wanted = [Quantity::Resolution { contrast: 0.2 }, Quantity::Fringing];
    let size = Estimate { value: 0.5, plus_minus: 0.05 };
    let placed = super::figures::placed(&figures, &wanted, 40.0, size, "/set-up");
    let [sharp, colour] = [&placed[0].figure, &placed[1].figure];
    // 40 lp/mm on film at 1:2 are 20 on the subject, 8 µm are 16; a tenth of the size is a tenth of either.
    assert_close!(sharp.value, 20.0, absolute = 1e-12);
    assert_close!(sharp.own_plus_minus, (1.5f64.powi(2) + 2.0f64.powi(2)).sqrt(), absolute = 1e-12);
    assert_eq!(
        (sharp.shared[0].name.as_str(), sharp.shared[1].name.as_str()),
        ("how far normal is from its form", "film and scanner")
    );
    assert_close!(sharp.shared[0].plus_minus, 3.0, absolute = 1e-12);
    assert_close!(sharp.shared[1].plus_minus, 1.0, absolute = 1e-12);
    assert_close!(colour.value, 16.0, absolute = 1e-12);
    assert_close!(sharp.at.expect("a place"), 0.5, absolute = 1e-12);
    let asked = super::figures::question(&[Quantity::Contrast { lp_mm: 10.0 }], &[0.0, 0.9], 40.0, 0.5, Chain::USUAL);
    assert_close!(asked.cycles_per_mm[0], 20.0, absolute = 1e-12);
    assert_close!(asked.film_mm[1], 36.0, absolute = 1e-12);
}
