//! What the example says: kit, jobs, rolls and frames. What each frame shows is traced through published designs.

use kit::{Kit, Setup, SetupRequest};
use notebook::{FrameDraft, FrameState, JobDraft, Notebook, NotebookError, PartRecord, RollDraft};
use optics::Figure;
use scene::{Blur, PointSpreads, Specimen};

use crate::bench::{self, BenchError};

use crate::web::clock::now;
use crate::web::kit_book::records;

/// The kit file of the example.
pub(crate) const KIT: &str = include_str!("kit.toml");

/// A frame that was taken, with what only an invented world knows of it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Shot {
    /// Its number on the roll.
    pub number: u32,
    /// What is on it.
    pub label: &'static str,
    pub specimen: Specimen,
    pub length_mm: f64,
    pub parts: &'static [&'static str],
    pub focus: &'static str,
    pub f_number: f64,
    pub metered_s: f64,
    pub shutter_s: f64,
    /// How far the true magnification lies off the one that the markings give, as a factor.
    pub truth: f64,
    pub glare: f64,
}

/// Blur of film and scanner together, µm on film (standard deviation): about a third of the contrast is left at 25 lp/mm.
const FILM_AND_SCANNER_UM: f64 = 9.0;

impl Shot {
    /// Blur of what comes after the lens.
    pub(super) fn blur(&self) -> Blur {
        Blur::even(FILM_AND_SCANNER_UM)
    }

    /// Blur, colour and fall-off of the lens with its attachments, traced.
    pub(super) fn spreads(&self, corner_mm: f64, cell_mm: f64) -> Result<PointSpreads, BenchError> {
        let kit = Kit::parse(KIT).unwrap_or_default();
        let setup = Setup::resolve(&kit, &self.request())?;
        bench::point_spreads(&bench::stand_in(&setup)?.0, corner_mm, cell_mm)
    }

    fn request(&self) -> SetupRequest {
        SetupRequest {
            parts: self.parts.iter().map(|part| (*part).to_owned()).collect(),
            // A focus that is none is told by the frame's own test; no frame has one.
            focus: self.focus.parse().unwrap_or_default(),
            f_number: Some(self.f_number),
            coc_mm: None,
        }
    }

    /// The magnification that the example's world has: what the markings give, and a little off.
    pub(super) fn magnification(&self) -> Option<f64> {
        let kit = Kit::parse(KIT).ok()?;
        let report = Setup::resolve(&kit, &self.request()).ok()?.report().ok()?;
        Some(report.figures.get(Figure::Magnification)?.value * self.truth)
    }

    fn frame(&self) -> FrameDraft {
        FrameDraft {
            number: self.number,
            label: self.label.into(),
            parts: self.parts.iter().map(|part| (*part).to_owned()).collect(),
            focus: self.focus.into(),
            f_number: Some(self.f_number),
            shutter_s: Some(self.shutter_s),
            metered_s: Some(self.metered_s),
            state: FrameState::Shot,
            ..FrameDraft::default()
        }
    }
}

const BEETLE: &str = "Stag beetle, life size";
const CRYSTAL: &str = "Quartz group, twice life size";

/// The shots of both jobs; a frame is known again by label and number.
pub(super) fn shots() -> Vec<Shot> {
    let beetle = Shot {
        number: 1,
        label: BEETLE,
        specimen: Specimen::StagBeetle,
        length_mm: 40.0,
        parts: &["copy-stand-6x6", "tube-26", "tube-52", "normal-85"],
        focus: "travel=5.3",
        f_number: 8.0,
        metered_s: 0.125,
        shutter_s: 0.5,
        truth: 1.006,
        glare: 0.010,
    };
    let crystal = Shot {
        number: 1,
        label: CRYSTAL,
        specimen: Specimen::Crystal,
        length_mm: 18.0,
        parts: &["copy-stand-6x6", "bellows=139", "reverse-62", "normal-85"],
        focus: "infinity",
        f_number: 16.0,
        metered_s: 0.5,
        shutter_s: 5.0,
        truth: 0.991,
        glare: 0.012,
    };
    vec![
        beetle.clone(),
        Shot { number: 2, f_number: 16.0, metered_s: 0.5, shutter_s: 2.0, ..beetle.clone() },
        Shot {
            number: 3,
            parts: &["copy-stand-6x6", "tube-26", "long-160", "plus-4"],
            focus: "travel=9.6",
            f_number: 11.0,
            metered_s: 0.25,
            shutter_s: 0.5,
            truth: 1.018,
            glare: 0.018,
            ..beetle.clone()
        },
        Shot {
            number: 4,
            parts: &["copy-stand-6x6", "bellows=157", "long-160"],
            focus: "infinity",
            f_number: 16.0,
            metered_s: 0.5,
            shutter_s: 2.0,
            truth: 0.994,
            glare: 0.014,
            ..beetle
        },
        crystal.clone(),
        Shot {
            number: 2,
            parts: &["copy-stand-6x6", "tube-26", "bellows=159", "normal-85"],
            truth: 1.004,
            glare: 0.018,
            ..crystal
        },
    ]
}

pub(super) fn shot_of(label: &str, number: u32) -> Option<Shot> {
    shots().into_iter().find(|shot| shot.label == label && shot.number == number)
}

/// The example's kit as the notebook keeps it.
pub(super) fn kit_records() -> Vec<PartRecord> {
    // The kit is part of the program; a test reads it, so that it cannot fail here.
    records(&Kit::parse(KIT).unwrap_or_default())
}

/// Enters kit, jobs, rolls and frames.
pub(super) fn enter(book: &mut Notebook) -> Result<(), NotebookError> {
    book.replace_kit(&kit_records())?;
    let beetles = JobDraft {
        title: "Stag beetles for plate 12".into(),
        subject: "stag beetle, male".into(),
        subject_mm: 40.0,
        subject_depth_mm: Some(12.0),
        fill: 0.7,
        print_mm: 150.0,
        least_working_distance_mm: Some(80.0),
        notes: "Two lenses, tubes, bellows and a close-up lens on one test roll: which of them for the plates, and can the old long lens be sold?".into(),
        ..usual()
    };
    add_job(book, &beetles, "Test roll A", BEETLE)?;
    let quartz = JobDraft {
        title: "Quartz points for the mineral cabinet".into(),
        subject: "violet quartz group".into(),
        subject_mm: 18.0,
        subject_depth_mm: Some(9.0),
        fill: 0.7,
        print_mm: 130.0,
        notes: "Reversed or not, at twice life size.".into(),
        ..usual()
    };
    add_job(book, &quartz, "Test roll B", CRYSTAL)?;
    let seeds = JobDraft {
        title: "Seed pods for the exchange list".into(),
        subject: "seed pod, burst open".into(),
        subject_mm: 62.0,
        fill: 0.8,
        print_mm: 120.0,
        ..usual()
    };
    book.add_job(&seeds, true, &now())?;
    Ok(())
}

fn usual() -> JobDraft {
    JobDraft { body: Some("copy-stand-6x6".into()), ..JobDraft::default() }
}

fn add_job(book: &mut Notebook, job: &JobDraft, roll: &str, label: &str) -> Result<(), NotebookError> {
    let job = book.add_job(job, true, &now())?;
    let film = "fine-grained colour transparency film".to_owned();
    let roll = book.add_roll(job, &RollDraft { title: roll.into(), film, iso: Some(100.0), ..RollDraft::default() })?;
    shots().iter().filter(|shot| shot.label == label).try_for_each(|shot| book.add_frame(roll, &shot.frame()).map(drop))
}
