//! What the example says: kit, jobs, rolls, frames, and the invented faults of each frame.

use kit::{Kit, Setup, SetupRequest};
use notebook::{FrameDraft, FrameState, JobDraft, Notebook, NotebookError, PartRecord, RollDraft};
use optics::Figure;
use scene::{Blur, LateralColour, Specimen};

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
    /// Blur of lens, film and scanner in the middle, µm on film (standard deviation).
    pub centre_um: f64,
    /// Along and across the radius in the corner.
    pub corner_um: [f64; 2],
    /// Red and blue outwards in the corner, µm on film.
    pub lateral_um: [f64; 2],
    pub glare: f64,
    pub falloff_stops: f64,
}

impl Shot {
    pub(super) fn blur(&self) -> Blur {
        let [corner_radial_um, corner_tangential_um] = self.corner_um;
        Blur { corner_radial_um, corner_tangential_um, ..Blur::even(self.centre_um) }
    }

    pub(super) fn lateral(&self) -> LateralColour {
        LateralColour { red_um: self.lateral_um[0], blue_um: self.lateral_um[1] }
    }

    /// The magnification that the example's world has: what the markings give, and a little off.
    pub(super) fn magnification(&self) -> Option<f64> {
        let kit = Kit::parse(KIT).ok()?;
        let request = SetupRequest {
            parts: self.parts.iter().map(|part| (*part).to_owned()).collect(),
            focus: self.focus.parse().ok()?,
            f_number: Some(self.f_number),
            coc_mm: None,
        };
        let report = Setup::resolve(&kit, &request).ok()?.report().ok()?;
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
        centre_um: 10.0,
        corner_um: [27.0, 19.0],
        lateral_um: [7.0, -9.0],
        glare: 0.010,
        falloff_stops: 0.5,
    };
    let crystal = Shot {
        number: 1,
        label: CRYSTAL,
        specimen: Specimen::Crystal,
        length_mm: 18.0,
        parts: &["copy-stand-6x6", "tube-52", "bellows=69", "reverse-62", "normal-85"],
        focus: "infinity",
        f_number: 8.0,
        metered_s: 0.125,
        shutter_s: 1.0,
        truth: 0.991,
        centre_um: 12.0,
        corner_um: [17.0, 15.0],
        lateral_um: [5.0, -6.0],
        glare: 0.012,
        falloff_stops: 0.3,
    };
    vec![
        beetle.clone(),
        Shot {
            number: 2,
            f_number: 16.0,
            metered_s: 0.5,
            shutter_s: 2.0,
            centre_um: 11.0,
            corner_um: [15.0, 13.0],
            falloff_stops: 0.3,
            ..beetle.clone()
        },
        Shot {
            number: 3,
            parts: &["copy-stand-6x6", "tube-26", "long-160", "plus-4"],
            focus: "travel=9.6",
            f_number: 11.0,
            metered_s: 0.25,
            shutter_s: 0.5,
            truth: 1.018,
            centre_um: 15.0,
            corner_um: [44.0, 30.0],
            lateral_um: [22.0, -34.0],
            glare: 0.022,
            falloff_stops: 0.4,
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
            centre_um: 13.0,
            corner_um: [24.6, 22.0],
            lateral_um: [4.0, -5.0],
            glare: 0.014,
            falloff_stops: 0.2,
            ..beetle
        },
        crystal.clone(),
        Shot {
            number: 2,
            parts: &["copy-stand-6x6", "tube-26", "tube-52", "bellows=107", "normal-85"],
            truth: 1.004,
            centre_um: 18.0,
            corner_um: [36.0, 27.0],
            lateral_um: [11.0, -14.0],
            glare: 0.018,
            falloff_stops: 0.4,
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
        notes: "Two lenses, tubes, bellows and a close-up lens on one test roll: which of them for the plates, and does the long lens stay?".into(),
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
