//! What the pictures are for: uses from the notebook, or one worked out of a job, with everything brought to the subject.

use kit::Kit;
use notebook::{Job, UseRecord};
use verdict::Need;
use verdict::enough::{Bound, Limit, Quantity, Requirement, Source, Use, UseError};

use crate::documents::verdict::LimitDocument;
use crate::documents::{Asked, RequirementDocument, Terms, UnreadableUse, UseDocument};
use crate::web::fmt;
use crate::web::jobs::need_for;

/// A use that can be judged by.
#[derive(Debug, Clone, PartialEq)]
pub struct Stated {
    /// "use-3" or "job-1".
    pub id: String,
    /// Its number in the notebook, where it is stated there.
    pub number: Option<i64>,
    /// Its job.
    pub job: Job,
    /// What it is called.
    pub title: String,
    /// What the job asks in figures, with the use's own print where it has one.
    pub need: Need,
    /// What is asked for, on film at the size that the job wants.
    pub limits: Vec<LimitDocument>,
    /// The same on the subject.
    pub use_: Use,
}

/// Why a use cannot be judged by.
#[derive(Debug, thiserror::Error)]
pub enum UseTrouble {
    /// The body is not in the kit, so that the size of the frame is not known.
    #[error("the body of its job is not in the kit, so the size of the frame is not known")]
    NoBody,
    /// The notebook's text.
    #[error(transparent)]
    Unreadable(#[from] UnreadableUse),
    /// What it asks makes no sense.
    #[error("{0}")]
    Nonsense(#[from] UseError),
}

/// From the centre to here the use that is worked out of a job wants its detail: what lies in the outermost corner of a picture of one
/// specimen is ground (common practice, no source).
const OWN_OUT_TO: f64 = 0.9;
/// The subject may be cut off by this at the ends before it no longer fits: finder and gate differ by about as much (common practice, no
/// source).
const FINDER: f64 = 0.03;

/// What a job asks of a picture where no use is stated: the detail that its print shows, with the contrast that it wants.
pub fn from_job(need: &Need) -> UseDocument {
    let reason = format!(
        "a print {} mm long shows {} lp/mm on paper: enlarged {} times",
        fmt::figure(need.print_mm, 3),
        fmt::figure(need.criterion_lp_mm, 2),
        fmt::figure(need.enlargement(), 2)
    );
    let asked = Requirement {
        quantity: Quantity::Resolution { contrast: need.contrast.min(MOST_CONTRAST) },
        bound: Bound::AtLeast,
        limit: Limit { value: need.on_film_lp_mm(), plus_minus: 0.0 },
        out_to: OWN_OUT_TO,
        reason,
        source: Source::OwnChoice,
    };
    UseDocument::of(&[asked])
}

/// A job may ask for all of the contrast, which no curve has anywhere but at nothing.
const MOST_CONTRAST: f64 = 0.95;

/// A use of the notebook.
pub fn stated(record: &UseRecord, job: &Job, kit: &Kit) -> Result<Stated, UseTrouble> {
    let document = UseDocument::read(&record.draft.requirements)?;
    let number = record.id.0;
    build(format!("use-{number}"), Some(number), &record.draft.title, job, kit, |_| document)
}

/// The use worked out of a job.
pub fn of_job(job: &Job, kit: &Kit) -> Result<Stated, UseTrouble> {
    build(format!("job-{}", job.id), None, "the job's print", job, kit, from_job)
}

fn build(
    id: String,
    number: Option<i64>,
    title: &str,
    job: &Job,
    kit: &Kit,
    document: impl FnOnce(&Need) -> UseDocument,
) -> Result<Stated, UseTrouble> {
    let of_job = need_for(job, kit).ok_or(UseTrouble::NoBody)?;
    let document = document(&of_job);
    let need = document.need(&of_job);
    let limits = limits(&document, &need, job);
    let own = limits.iter().filter(|limit| !limit.from_job).map(|limit| limit.asked.requirement());
    Use { id: title.into(), requirements: own.collect() }.check()?;
    let requirements = limits.iter().map(|limit| on_subject(&limit.asked, need.magnification())).collect();
    let use_ = Use { id: id.clone(), requirements };
    use_.check()?;
    Ok(Stated { id, number, job: job.clone(), title: title.into(), need, limits, use_ })
}

/// What the use asks and what its job asks besides, in film's terms.
fn limits(document: &UseDocument, need: &Need, job: &Job) -> Vec<LimitDocument> {
    let limit = |asked: &RequirementDocument, from_job: bool| LimitDocument {
        words: both_ways(asked, need),
        asked: asked.on_film(need),
        from_job,
    };
    let own = document.requirements.iter().map(|asked| limit(asked, false));
    let of_job = job_limits(job);
    own.chain(of_job.iter().map(|asked| limit(asked, true))).collect()
}

impl Stated {
    /// From the print to film and subject, step by step; empty where nothing that it asks is seen in a print.
    pub fn reckoned(&self) -> String {
        if self.limits.iter().any(|limit| limit.asked.quantity.is_enlarged()) {
            reckoned(&self.need)
        } else {
            String::new()
        }
    }
}

/// The arithmetic from a print to film, to the subject and to another size on film.
pub fn reckoned(need: &Need) -> String {
    let three = |number: f64| fmt::figure(number, 3);
    let (long_mm, m) = (need.frame_mm[0].max(need.frame_mm[1]), need.magnification());
    format!(
        "A print {print}\u{a0}mm long from a frame {long}\u{a0}mm long is enlarged {print} / {long} = {times} times. The finest that is seen in it, {seen}\u{a0}lp/mm on paper, is {seen} × {times} = {film}\u{a0}lp/mm on film, and {film} × {size} = {subject}\u{a0}lp/mm on the subject at the size that the job wants ({ratio}). A frame taken half as large must hold {double}\u{a0}lp/mm on film for the same detail.",
        print = three(need.print_mm),
        long = three(long_mm),
        times = three(need.enlargement()),
        seen = three(need.criterion_lp_mm),
        film = three(need.on_film_lp_mm()),
        size = three(m),
        subject = three(need.on_subject_lp_mm()),
        ratio = fmt::ratio(m),
        double = three(2.0 * need.on_film_lp_mm()),
    )
}

/// What the job asks of every picture, whatever it is for.
fn job_limits(job: &Job) -> Vec<RequirementDocument> {
    let limit = |quantity: Asked, limit: f64, reason: &str, source: &str| RequirementDocument {
        quantity,
        at: None,
        side: quantity.usual_side(),
        terms: Terms::Film,
        limit,
        plus_minus: 0.0,
        out_to: 1.0,
        reason: reason.into(),
        source: source.into(),
    };
    let own = crate::documents::OWN_CHOICE;
    let whole = limit(Asked::Field, job.subject_mm * (1.0 - FINDER), "the whole subject lies in the frame", own);
    let room =
        job.least_working_distance_mm.map(|mm| limit(Asked::WorkingDistance, mm, "room that the job wants", own));
    let light = job.most_stops_lost.map(|stops| limit(Asked::LightLost, stops, "light that the job can spare", own));
    [Some(whole), room, light].into_iter().flatten().collect()
}

/// A limit brought from film, at the size wanted, to the subject, so that frames of any size compare.
fn on_subject(asked: &RequirementDocument, magnification: f64) -> Requirement {
    let requirement = asked.requirement();
    let factor = to_subject(asked.quantity, magnification);
    let quantity = match requirement.quantity {
        Quantity::Contrast { lp_mm } => Quantity::Contrast { lp_mm: lp_mm * magnification },
        other => other,
    };
    let Limit { value, plus_minus } = requirement.limit;
    Requirement { quantity, limit: Limit { value: value * factor, plus_minus: plus_minus * factor }, ..requirement }
}

/// What turns a figure on film at the size wanted into one on the subject.
pub fn to_subject(asked: Asked, magnification: f64) -> f64 {
    match asked {
        Asked::Resolution => magnification,
        Asked::Fringing => magnification.recip(),
        _ => 1.0,
    }
}

/// A share as "3 %", anything else with its unit.
pub fn amount(asked: Asked, value: f64) -> String {
    match asked {
        Asked::Contrast | Asked::Glare => fmt::percent(value),
        Asked::Resolution => format!("{}\u{a0}lp/mm", fmt::figure(value, 3)),
        other => format!("{}\u{a0}{}", fmt::figure(value, 2), other.unit()),
    }
}

/// A limit as it was given, and the same on film and on the print.
pub fn both_ways(asked: &RequirementDocument, need: &Need) -> String {
    let stated = words(asked);
    if !asked.quantity.is_enlarged() {
        return stated;
    }
    let film = asked.on_film(need);
    let others = Terms::ALL.into_iter().filter(|terms| *terms != asked.terms && *terms != Terms::Seen);
    let other: Vec<String> =
        others.map(|terms| figure_of(&if terms == Terms::Film { film.clone() } else { film.in_print(need) })).collect();
    format!("{stated}: {}", other.join(", "))
}

/// The figure that depends on its terms: "13.4 lp/mm on film", "0.1 mm on the print", "50 % of the finest pair that is seen".
fn figure_of(asked: &RequirementDocument) -> String {
    let number = if asked.quantity == Asked::Contrast { asked.at.unwrap_or(f64::NAN) } else { asked.limit };
    in_words(asked, number)
}

fn in_words(asked: &RequirementDocument, number: f64) -> String {
    let width = asked.quantity == Asked::Fringing;
    match (asked.terms, width) {
        (Terms::Film, true) => format!("{}\u{a0}µm on film", fmt::figure(number, 2)),
        (Terms::Print, true) => format!("{}\u{a0}mm on the print", fmt::figure(number, 2)),
        (Terms::Seen, true) => format!("{} of the finest line pair that is seen", fmt::percent(number)),
        (Terms::Film, false) => format!("{}\u{a0}lp/mm on film", fmt::figure(number, 3)),
        (Terms::Print, false) => format!("{}\u{a0}lp/mm on the print", fmt::figure(number, 3)),
        (Terms::Seen, false) => format!("{} of the fineness that is seen", fmt::percent(number)),
    }
}

/// A limit in words, in the terms that it was given in: "at least 26.8 lp/mm on film with 30 % of the contrast left, out to 70 % of the
/// way to the corner".
pub fn words(asked: &RequirementDocument) -> String {
    let side = asked.side.words();
    let plain = |number: f64| amount(asked.quantity, number);
    let doubt = |words: String| if asked.plus_minus > 0.0 { format!(" (± {words})") } else { String::new() };
    let limit = || format!("{}{}", plain(asked.limit), doubt(plain(asked.plus_minus)));
    let termed = || format!("{}{}", figure_of(asked), doubt(in_words(asked, asked.plus_minus)));
    let at = asked.at.unwrap_or(f64::NAN);
    let core = match asked.quantity {
        Asked::Resolution => format!("{side} {} with {} of the contrast left", termed(), fmt::percent(at)),
        Asked::Contrast => format!("{side} {} of the contrast at {}", limit(), figure_of(asked)),
        Asked::Fringing => format!("colour beside an edge of {side} {}", termed()),
        Asked::Glare => format!("{side} {} of veiling glare", limit()),
        Asked::Unevenness => format!("{side} {} of fall-off", limit()),
        Asked::WorkingDistance => format!("{side} {} of room in front", limit()),
        Asked::LightLost => format!("{side} {} of light lost", limit()),
        Asked::Field => format!("{side} {} of the subject within the frame's shorter side", limit()),
    };
    if asked.quantity.has_places() { format!("{core}, {}", reach(asked.out_to)) } else { core }
}

/// How far out in the frame, in words.
pub fn reach(out_to: f64) -> String {
    match out_to {
        whole if whole >= 0.995 => "over the whole frame".into(),
        centre if centre <= 0.12 => "in the middle of the frame".into(),
        part => format!("out to {} of the way to the corner", fmt::percent(part)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::KIT;
    use notebook::{JobDraft, Notebook, UseDraft};
    use testkit::assert_close;

    fn job(draft: JobDraft) -> (Notebook, Job) {
        let mut book = Notebook::in_memory().expect("notebook");
        let id =
            book.add_job(&JobDraft { title: "Beetles".into(), ..draft }, false, "2026-05-01T10:00:00Z").expect("job");
        let job = book.job(id).expect("read").expect("there");
        (book, job)
    }

    #[test]
    fn a_job_without_uses_gets_one_of_its_own_figures() {
        // 5 lp/mm on 150 mm of paper from 56 mm: 13.39 lp/mm on film; at 0.7 · 56 / 40 = 0.98 life size 13.125 on the subject.
        let draft =
            JobDraft { subject_mm: 40.0, fill: 0.7, print_mm: 150.0, contrast_needed: 0.2, ..JobDraft::default() };
        let (_, job) = job(JobDraft { least_working_distance_mm: Some(80.0), most_stops_lost: Some(3.0), ..draft });
        let kit = Kit::parse(KIT).expect("kit");
        let stated = of_job(&job, &kit).expect("a use");
        assert_close!(stated.limits[0].asked.limit, 13.392_857, absolute = 1e-5);
        assert_close!(stated.use_.requirements[0].limit.value, 13.125, absolute = 1e-9);
        assert_eq!(stated.use_.requirements[0].quantity, Quantity::Resolution { contrast: 0.2 });
        let of_job: Vec<Asked> = stated.limits.iter().filter(|l| l.from_job).map(|l| l.asked.quantity).collect();
        assert_eq!(of_job, [Asked::Field, Asked::WorkingDistance, Asked::LightLost]);
    }

    #[test]
    fn limits_on_film_hold_at_the_size_wanted() {
        // At half life size 20 lp/mm on film are 10 on the subject, and 8 µm of fringe are 16 on the subject.
        let asked = |quantity: Asked, at, limit| RequirementDocument {
            quantity,
            at,
            side: quantity.usual_side(),
            terms: Terms::Film,
            limit,
            plus_minus: limit / 10.0,
            out_to: 0.9,
            reason: String::new(),
            source: "own choice".into(),
        };
        let sharp = on_subject(&asked(Asked::Resolution, Some(0.3), 20.0), 0.5);
        assert_close!(sharp.limit.value, 10.0, absolute = 1e-12);
        assert_close!(sharp.limit.plus_minus, 1.0, absolute = 1e-12);
        assert_close!(on_subject(&asked(Asked::Fringing, None, 8.0), 0.5).limit.value, 16.0, absolute = 1e-12);
        let contrast = on_subject(&asked(Asked::Contrast, Some(20.0), 0.3), 0.5);
        assert_eq!(contrast.quantity, Quantity::Contrast { lp_mm: 10.0 });
        assert_close!(contrast.limit.value, 0.3, absolute = 1e-12);
    }

    #[test]
    fn what_cannot_be_judged_by_is_refused_in_words() {
        let (mut book, job) = job(JobDraft::default());
        let kit = Kit::parse(KIT).expect("kit");
        let refused = |requirements: &str, kit: &Kit, book: &mut Notebook| {
            let draft = UseDraft { title: format!("plate {}", requirements.len()), requirements: requirements.into() };
            let id = book.add_use(job.id, &draft, "2026-05-01T10:00:00Z").expect("kept");
            stated(&book.use_of(id).expect("read").expect("there"), &job, kit).expect_err("refused").to_string()
        };
        let own = "{\"version\":1,\"requirements\":[]}";
        assert!(refused(own, &kit, &mut book).contains("asks for nothing"));
        assert!(refused("{\"version\":3}", &kit, &mut book).contains("form 3"));
        assert!(refused("?", &kit, &mut book).contains("cannot be read"));
        let one = serde_json::to_string(&from_job(&need_for(&job, &kit).expect("need"))).expect("text");
        assert!(refused(&one, &Kit::default(), &mut book).contains("not in the kit"));
    }

    /// A use of a job with a print of 150 mm from 56 mm.
    fn kept(document: &str) -> Stated {
        let (mut book, job) = job(JobDraft { subject_mm: 40.0, fill: 0.7, print_mm: 150.0, ..JobDraft::default() });
        let kit = Kit::parse(KIT).expect("kit");
        let draft = UseDraft { title: "plate".into(), requirements: document.into() };
        let id = book.add_use(job.id, &draft, "2026-05-01T10:00:00Z").expect("kept");
        stated(&book.use_of(id).expect("read").expect("there"), &job, &kit).expect("a use")
    }

    #[test]
    fn colour_is_told_as_it_is_seen_in_print() {
        // 37 µm on film, enlarged 150/56 times: 0.099 mm on paper.
        let stated = kept(
            r#"{"version":1,"requirements":[{"quantity":"fringing","side":"at_most","limit":37,"out_to":0.9,
            "reason":"r","source":"own choice"}]}"#,
        );
        assert!(stated.limits[0].words.ends_with(": 0.099\u{a0}mm on the print"), "{}", stated.limits[0].words);
    }

    #[test]
    fn a_limit_of_a_print_is_judged_on_film_and_told_both_ways() {
        // A print of 300 mm seen from 500 mm: 2.5 lp/mm on paper, enlarged 5.357 times. 0.2 mm of colour are 37.33 µm on film and, at 0.98
        // life size, 38.10 µm on the subject; a quarter of the finest pair, 0.4 mm, is half of that (own arithmetic).
        let stated = kept(
            r#"{"version":2,"print":{"long_mm":300,"seen":{"from_mm":500}},"requirements":[
            {"quantity":"fringing","side":"at_most","terms":"print","limit":0.2,"out_to":0.9,"reason":"r","source":"own choice"},
            {"quantity":"fringing","side":"at_most","terms":"seen","limit":0.25,"out_to":0.9,"reason":"r","source":"own choice"},
            {"quantity":"resolution","at":0.3,"side":"at_least","terms":"seen","limit":0.8,"out_to":0.9,"reason":"r","source":"own choice"}]}"#,
        );
        let judged: Vec<f64> = stated.use_.requirements.iter().take(3).map(|asked| asked.limit.value).collect();
        assert_close!(judged[0], 38.095_238, relative = 1e-7);
        assert_close!(judged[1], 19.047_619, relative = 1e-7);
        // 0.8 · 2.5 · 5.357 · 0.98.
        assert_close!(judged[2], 10.5, relative = 1e-9);
        let words: Vec<String> = stated.limits.iter().take(3).map(|limit| limit.words.replace('\u{a0}', " ")).collect();
        let out = "out to 90 % of the way to the corner";
        assert_eq!(words[0], format!("colour beside an edge of at most 0.20 mm on the print, {out}: 37 µm on film"));
        assert_eq!(
            words[1],
            format!(
                "colour beside an edge of at most 25 % of the finest line pair that is seen, {out}: 19 µm on film, 0.10 mm on the print"
            )
        );
        assert_eq!(
            words[2],
            format!(
                "at least 80 % of the fineness that is seen with 30 % of the contrast left, {out}: 10.7 lp/mm on film, 2.00 lp/mm on the print"
            )
        );
        assert_eq!(
            stated.reckoned().replace('\u{a0}', " "),
            "A print 300 mm long from a frame 56.0 mm long is enlarged 300 / 56.0 = 5.36 times. The finest that is seen in it, 2.50 lp/mm on paper, is 2.50 × 5.36 = 13.4 lp/mm on film, and 13.4 × 0.980 = 13.1 lp/mm on the subject at the size that the job wants (1:1). A frame taken half as large must hold 26.8 lp/mm on film for the same detail."
        );
    }

    #[test]
    fn limits_are_said_in_words() {
        let (_, job) = job(JobDraft { subject_mm: 40.0, fill: 0.7, print_mm: 150.0, ..JobDraft::default() });
        let kit = Kit::parse(KIT).expect("kit");
        let limits = of_job(&job, &kit).expect("a use").limits;
        let plain = |n: usize| limits[n].words.replace('\u{a0}', " ");
        assert_eq!(
            plain(0),
            "at least 13.4 lp/mm on film with 20 % of the contrast left, out to 90 % of the way to the corner: 5.00 lp/mm on the print"
        );
        assert_eq!(plain(1), "at least 39 mm of the subject within the frame's shorter side");
    }
}
