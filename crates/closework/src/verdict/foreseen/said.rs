//! Predictions in sentences.

use verdict::Answer;

use super::super::build::Prepared;
use super::super::judged::{Judged, chance, figure_words, limit_words};
use super::super::money::{Prices, sum_with};
use super::set_ups::{Foreseen, chain};
use super::{likeliest, owned};
use crate::documents::foreseen::{ForeseenCheck, ForeseenDocument, ForeseenGain, ForeseenWish};
use crate::documents::verdict::{Evidence, FindingDocument, Sentence, SentenceKind};
use crate::verdict::predicted::address;
use crate::web::fmt;

/// Where the width of every interval comes from.
pub fn reasons(prepared: &Prepared) -> Vec<String> {
    let chain = chain(prepared);
    vec![
        "The form is not the lens: the four forms of the library that are most like it (of its kind, then of its class) were put in its place, at the same focal length and light, and focused anew. How far they scatter, with Student's t for so few, is how far a lens of this kind may be from its form.".into(),
        "Focusing: figures are means over how far the film may be off before an eye on the ground glass sees a tenth less contrast.".into(),
        format!(
            "Film and scanner are in these figures as they are in measured ones: between a film that leaves half of the contrast at 40 lp/mm, scanned so that two samples of {} µm blur together, and one of 100 lp/mm scanned ideally.",
            fmt::figure(chain.pitch_um, 3)
        ),
        "How well a certain lens was made, centred and kept is in none of it: a frame tells.".into(),
    ]
}

/// All of them, what serves first, then what to buy.
pub fn sentences(
    prepared: &Prepared,
    judged: &Judged,
    foreseen: &[Foreseen],
    document: &ForeseenDocument,
) -> Vec<Sentence> {
    let mut all: Vec<Sentence> =
        (0..judged.uses.len()).filter_map(|use_| likeliest_now(prepared, judged, use_)).collect();
    all.extend(to_buy(prepared, judged, foreseen, document));
    all.extend(document.check.iter().map(checked));
    all
}

fn use_name(judged: &Judged, use_: usize) -> String {
    let stated = &judged.uses[use_];
    match stated.number {
        Some(_) => format!("“{}” of “{}”", stated.title, stated.job.title),
        None => format!("the print of “{}”", stated.job.title),
    }
}

fn likeliest_now(prepared: &Prepared, judged: &Judged, use_: usize) -> Option<Sentence> {
    let (at, probability) = likeliest(judged, use_, |at| owned(prepared, &judged.candidates[at]))?;
    let (candidate, use_id) = (&judged.candidates[at], &judged.uses[use_].id);
    let mut text = format!(
        "Of what can be built and was not measured, “{}” is the likeliest for {}: a predicted chance of {}",
        candidate.name,
        use_name(judged, use_),
        chance(probability)
    );
    if let Some(finding) = judged.weakest(use_, at) {
        let limit = &judged.uses[use_].limits[finding.limit];
        let side = limit.asked.side.words();
        text += &format!(
            "; tightest is {}, where {side} {} is asked for",
            figure_words(limit, &finding),
            limit_words(limit)
        );
    }
    text.push('.');
    let page = address(&candidate.parts, &candidate.focus, candidate.f_number);
    let evidence = vec![Evidence { words: "the set-up".into(), page }];
    let kind = match judged.rulings[use_][at].answer {
        Answer::Serves => SentenceKind::Best,
        Answer::Undecided => SentenceKind::Perhaps,
        Answer::FallsShort => SentenceKind::NotServed,
    };
    Some(Sentence { kind, text, about: vec![use_id.clone(), candidate.id.clone()], evidence })
}

/// A chance must rise by so much to be worth naming.
const WORTH: f64 = 0.05;

/// By how much a part raises the chance for a use.
pub fn rise(gain: &ForeseenGain) -> f64 {
    gain.probability - gain.without.as_ref().map_or(0.0, |without| without.probability)
}

fn to_buy(prepared: &Prepared, judged: &Judged, foreseen: &[Foreseen], document: &ForeseenDocument) -> Vec<Sentence> {
    let best = |wish: &ForeseenWish| wish.uses.iter().map(rise).fold(0.0, f64::max);
    let mut wishes: Vec<&ForeseenWish> = document.wishes.iter().filter(|wish| wish.why_not.is_empty()).collect();
    wishes.sort_by(|a, b| best(b).total_cmp(&best(a)));
    let candidates: Vec<_> = foreseen.iter().map(|foreseen| foreseen.candidate.clone()).collect();
    let money = prepared.material.prices(&candidates);
    wishes.iter().map(|wish| one_wish(prepared, judged, document, wish, &money)).collect()
}

fn one_wish(
    prepared: &Prepared,
    judged: &Judged,
    document: &ForeseenDocument,
    wish: &ForeseenWish,
    prices: &Prices,
) -> Sentence {
    let cost = wish.price.map_or(String::new(), |price| {
        format!(" for {}", sum_with(price, wish.price_plus_minus, &prices.money.currency))
    });
    let worth: Vec<&ForeseenGain> = wish.uses.iter().filter(|gain| rise(gain) >= WORTH).collect();
    let name = |id: &str| document.set_ups.iter().find(|set_up| set_up.id == id).map_or("", |set_up| &set_up.name);
    let one = |gain: &&ForeseenGain| {
        let use_ = judged.use_at(&gain.use_id).map_or(String::new(), |at| use_name(judged, at));
        let from = match &gain.without {
            Some(without) => format!("from {} to {}", chance(without.probability), chance(gain.probability)),
            None => format!("from nothing that can be traced to {}", chance(gain.probability)),
        };
        format!("the chance for {use_} {from}, with “{}”{}", name(&gain.set_up), figures(prepared, gain))
    };
    let nearest = wish.uses.iter().max_by(|a, b| rise(a).total_cmp(&rise(b)));
    let nearest = nearest.map_or(String::new(), |gain| {
        format!(" At best it makes “{}”{}.", name(&gain.set_up), figures(prepared, gain))
    });
    let text = match &worth[..] {
        [] => format!(
            "Buying {}{cost} is not predicted to do more for any use than what is there already.{nearest}",
            wish.name
        ),
        gains => format!(
            "Buying {}{cost} is predicted to raise {}. Try it on a borrowed one first: a frame decides.",
            wish.name,
            gains.iter().map(one).collect::<Vec<_>>().join("; ")
        ),
    };
    let evidence = worth.first().and_then(|gain| {
        let set_up = document.set_ups.iter().find(|set_up| set_up.id == gain.set_up)?;
        Some(Evidence { words: "its set-up, predicted".into(), page: format!("#{}", set_up.id) })
    });
    Sentence { kind: SentenceKind::Buy, text, about: vec![wish.part.clone()], evidence: evidence.into_iter().collect() }
}

/// The tightest figure with a part, and that of what is owned: ", 12 ± 5 lp/mm on film in the corner against 9 ± 6 …".
fn figures(prepared: &Prepared, gain: &ForeseenGain) -> String {
    let limits = prepared.uses.iter().find(|stated| stated.id == gain.use_id).map(|stated| stated.limits.as_slice());
    let words = |finding: &Option<FindingDocument>| {
        let finding = finding.as_ref()?;
        Some(figure_words(limits?.get(finding.limit)?, finding))
    };
    let with = words(&gain.finding).map_or(String::new(), |with| format!(", tightest {with}"));
    let without = gain.without.as_ref().and_then(|without| words(&without.finding));
    with + &without.map_or(String::new(), |without| format!(", against {without} of what is owned"))
}

fn checked(check: &ForeseenCheck) -> Sentence {
    let ratio = check.resolution_ratio.map_or(String::new(), |ratio| {
        format!(" Half of the measured resolutions lie above {} of the predicted ones.", fmt::percent(ratio))
    });
    let text = format!(
        "How far to trust it: of {} figures measured with {} that can be traced as well, {} lie within what is predicted of them.{ratio}",
        check.figures,
        fmt::count(check.set_ups, "set-up", "set-ups"),
        check.within
    );
    Sentence { kind: SentenceKind::Sure, text, about: Vec::new(), evidence: Vec::new() }
}
