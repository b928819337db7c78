//! The notebook's own frames of a part, and why some of them tell nothing.

use kit::{Focus, Kind, Kit, Part};
use notebook::{Frame, JobId, MeasurementKind, Notebook, Roll, Scan, ScanId};

use super::kept::Kept;
use crate::calibrating::{At, CloseUpEntry, FrameEntry, Number, PX_PER_MM_SHARE, Reading, placed};
use crate::documents::ScaleDocument;
use crate::web::PageError;

/// A frame of the notebook in which the part was used.
pub(super) struct Seen<T> {
    /// Its name among the ticks.
    pub name: String,
    pub label: String,
    pub job: JobId,
    pub scan: Option<ScanId>,
    /// The set-up, as it is written on the frame.
    pub set_up: String,
    /// What it tells, or why it tells nothing.
    pub tells: Result<T, String>,
}

impl<T> Seen<T> {
    /// What it tells, when it is ticked.
    pub fn taken(&self, kept: &Kept) -> Option<&T> {
        self.tells.as_ref().ok().filter(|_| kept.takes(&self.name))
    }
}

/// A frame with one of its scans, and the ruler measured there.
struct Shown {
    frame: Frame,
    roll: String,
    job: JobId,
    scan: Option<Scan>,
    ruler: Option<ScaleDocument>,
}

fn id_of(word: &str) -> &str {
    word.split_once('=').map_or(word, |(id, _)| id).trim()
}

/// All frames in which the part is.
fn frames_with(book: &Notebook, part: &str) -> Result<Vec<Shown>, PageError> {
    let mut shown = Vec::new();
    for job in book.jobs()? {
        let (rolls, scans) = (book.rolls(job.id)?, book.scans_of_job(job.id)?);
        let frames = book.frames_of_job(job.id)?;
        for frame in frames.into_iter().filter(|frame| frame.parts.iter().any(|word| id_of(word) == part)) {
            let roll = rolls
                .iter()
                .find(|roll| roll.id == frame.roll)
                .map_or_else(String::new, |roll: &Roll| roll.title.clone());
            let mut of_frame: Vec<Option<&Scan>> =
                scans.iter().filter(|scan| scan.frame == Some(frame.id)).map(Some).collect();
            if of_frame.is_empty() {
                of_frame.push(None);
            }
            for scan in of_frame {
                let ruler = scan.map(|scan| ruler_of(book, scan.id)).transpose()?.flatten();
                shown.push(Shown { frame: frame.clone(), roll: roll.clone(), job: job.id, scan: scan.cloned(), ruler });
            }
        }
    }
    Ok(shown)
}

/// The ruler that was measured last in a scan.
fn ruler_of(book: &Notebook, scan: ScanId) -> Result<Option<ScaleDocument>, PageError> {
    let measured = book.measurements(scan)?;
    let rulers = measured.iter().rev().filter(|measured| measured.kind == MeasurementKind::Scale);
    Ok(rulers.filter_map(|measured| serde_json::from_str(&measured.result).ok()).next())
}

impl Shown {
    fn label(&self) -> String {
        format!("{}, frame {}", self.roll, self.frame.number)
    }

    fn name(&self) -> String {
        self.scan.as_ref().map_or_else(|| format!("frame {}", self.frame.id), |scan| format!("scan {}", scan.id))
    }

    /// The magnification by the ruler, with what errs in this frame alone: where the marks are, and how square the ruler
    /// lay. What scanner and ruler err by is common to all frames.
    fn reading(&self) -> Result<Reading, String> {
        let scan = self.scan.as_ref().ok_or("it has no scan yet")?;
        let ruler = self.ruler.as_ref().ok_or("no ruler is measured in its scan")?;
        let pitch_um = scan.pitch_um.ok_or("the pitch of its scan is not known")?;
        let plus_minus = Some(ruler.plus_minus.hypot(PX_PER_MM_SHARE * ruler.px_per_mm));
        Ok(Reading::Scan { px_per_mm: Number { value: ruler.px_per_mm, plus_minus }, pitch_um })
    }

    fn at(&self) -> Result<At, String> {
        match self.frame.focus.parse()? {
            Focus::Infinity => Ok(At::Infinity),
            Focus::Closest => Ok(At::Closest),
            Focus::Travel(travel) => Ok(At::Travel(Number::plain(travel))),
            Focus::Distance(_) => {
                Err("its focus is noted by the lens's own scale, which is what calibration would have to find out"
                    .into())
            }
        }
    }

    fn seen<T>(self, tells: Result<T, String>) -> Seen<T> {
        Seen {
            name: self.name(),
            label: self.label(),
            job: self.job,
            scan: self.scan.as_ref().map(|scan| scan.id),
            set_up: format!("{}, {}", self.frame.parts.join(", "), self.frame.focus),
            tells,
        }
    }
}

/// No two frames of one label: rolls of two jobs may bear one title.
fn distinct(shown: &[Shown], at: usize) -> String {
    let label = shown[at].label();
    let doubled = shown.iter().filter(|other| other.label() == label).count() > 1;
    if doubled { format!("{label} ({})", shown[at].name()) } else { label }
}

/// The notebook's frames of a lens.
pub(super) fn frames(book: &Notebook, kit: &Kit, lens: &Part) -> Result<Vec<Seen<FrameEntry>>, PageError> {
    let shown = frames_with(book, lens.id())?;
    let labels: Vec<String> = (0..shown.len()).map(|at| distinct(&shown, at)).collect();
    let seen = shown.into_iter().zip(labels).map(|(shown, label)| {
        let tells = frame(kit, lens, &shown, &label);
        Seen { label, ..shown.seen(tells) }
    });
    Ok(seen.collect())
}

fn frame(kit: &Kit, lens: &Part, shown: &Shown, label: &str) -> Result<FrameEntry, String> {
    let parts = shown.frame.parts.clone();
    let (at, reading) = (shown.at()?, shown.reading()?);
    let entry = FrameEntry { label: label.to_owned(), parts, at, reading, subject_to_film_mm: None };
    usable(kit, lens, &entry)?;
    Ok(entry)
}

/// Whether a frame can take part; the words say why not.
pub(super) fn usable(kit: &Kit, lens: &Part, entry: &FrameEntry) -> Result<(), String> {
    let placed = placed(kit, entry)?;
    if placed.lens != lens.id() {
        return Err(format!("it shows lens \"{}\"", placed.lens));
    }
    if entry.at == At::Infinity && placed.frame.extension_mm() == 0.0 {
        return Err("at the infinity mark with nothing between body and lens, nothing near can be sharp".into());
    }
    let [least, most] = calibration::MAGNIFICATIONS;
    let m = placed.frame.magnification.value;
    if !(least..=most).contains(&m) {
        return Err(format!("its magnification of {m} lies outside {least} to {most}"));
    }
    Ok(())
}

/// The notebook's pairs without and with a close-up lens.
pub(super) fn pairs(book: &Notebook, kit: &Kit, part: &Part) -> Result<Vec<Seen<CloseUpEntry>>, PageError> {
    let shown = frames_with(book, part.id())?;
    let labels: Vec<String> = (0..shown.len()).map(|at| distinct(&shown, at)).collect();
    let mut seen: Vec<Seen<CloseUpEntry>> = Vec::new();
    for (with, label) in shown.into_iter().zip(labels) {
        let tells = pair(book, kit, part, &with, &label)?;
        // One carrier to a fit.
        let first =
            seen.iter().find_map(|seen| seen.tells.as_ref().ok()).map(|pair| (pair.lens.clone(), pair.rings.clone()));
        let tells = tells.and_then(|pair| match &first {
            Some((lens, rings)) if (lens, rings) != (&pair.lens, &pair.rings) => Err(format!(
                "it was taken with lens \"{}\", the pairs above with \"{lens}\"; one lens at a time",
                pair.lens
            )),
            _ => Ok(pair),
        });
        seen.push(Seen { label, ..with.seen(tells) });
    }
    Ok(seen)
}

fn pair(
    book: &Notebook,
    kit: &Kit,
    part: &Part,
    with: &Shown,
    label: &str,
) -> Result<Result<CloseUpEntry, String>, PageError> {
    let (lens, rings) = match on_body_alone(kit, part, with) {
        Ok(both) => both,
        Err(why) => return Ok(Err(why)),
    };
    let (at, reading) = match with.at().and_then(|at| Ok((at, with.reading()?))) {
        Ok(both) => both,
        Err(why) => return Ok(Err(why)),
    };
    let without = match at {
        At::Infinity => None,
        _ => {
            let parts = &with.frame.parts[..2];
            let same = |other: &Shown| other.frame.parts == parts && other.frame.focus == with.frame.focus;
            let found = frames_with(book, &lens)?.into_iter().filter(same).find_map(|other| other.reading().ok());
            if found.is_none() {
                return Ok(Err(format!(
                    "there is no frame of a measured ruler with {} at {} without it",
                    parts.join(", "),
                    with.frame.focus
                )));
            }
            found
        }
    };
    let body = with.frame.parts.first().cloned();
    Ok(Ok(CloseUpEntry {
        label: label.to_owned(),
        part: part.id().into(),
        lens,
        body,
        rings,
        at,
        without,
        with: reading,
    }))
}

/// Body, lens, rings, close-up lens: the lens and the rings of such a set-up.
fn on_body_alone(kit: &Kit, part: &Part, with: &Shown) -> Result<(String, Vec<String>), String> {
    let parts = &with.frame.parts;
    let kind = |word: &String| kit.part(id_of(word)).map(Part::kind);
    let [_, lens, rings @ .., last] = parts.as_slice() else {
        return Err("its set-up is not known".into());
    };
    if kind(lens) != Some(Kind::Lens) || lens.contains('=') {
        return Err("a pair takes the lens on the body alone, the normal way round".into());
    }
    if id_of(last) != part.id() || rings.iter().any(|ring| kind(ring) != Some(Kind::StepRing)) {
        return Err("a pair takes this close-up lens alone before the lens".into());
    }
    Ok((lens.clone(), rings.to_vec()))
}
