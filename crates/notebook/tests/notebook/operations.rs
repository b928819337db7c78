//! Everything that can be done to a notebook, as values: to be drawn at random, and done to a notebook or to the model.

use notebook::{
    DecisionId, FrameDraft, FrameId, FrameState, JobDraft, JobId, Magnification, MagnificationSource, MeasurementDraft,
    MeasurementId, MeasurementKind, Notebook, NotebookError, PartRecord, RollDraft, RollId, ScanDraft, ScanId,
    ScanPicture, ScanState,
};
use proptest::prelude::*;
use proptest::{collection::vec, option, sample::select};

use crate::samples::{self, NOW};

#[derive(Debug, Clone)]
pub enum Operation {
    AddPart(PartRecord),
    UpdatePart(String, PartRecord),
    DeletePart(String),
    ReplaceKit(Vec<PartRecord>),
    AddJob(JobDraft, bool),
    UpdateJob(JobId, JobDraft),
    DeleteJob(JobId),
    AddRoll(JobId, RollDraft),
    UpdateRoll(RollId, RollDraft),
    DeleteRoll(RollId),
    AddFrame(RollId, FrameDraft),
    UpdateFrame(FrameId, FrameDraft),
    DeleteFrame(FrameId),
    AddScan(ScanDraft),
    SetPicture(ScanId, ScanPicture),
    SetState(ScanId, ScanState),
    SetMagnification(ScanId, Option<Magnification>),
    SetPitch(ScanId, Option<f64>, String),
    SetFrame(ScanId, Option<FrameId>),
    SetJob(ScanId, Option<JobId>),
    DeleteScan(ScanId),
    AddMeasurement(MeasurementDraft),
    DeleteMeasurement(MeasurementId),
    AddDecision(JobId, String),
    DeleteDecision(DecisionId),
    SetSetting(String, String),
}

/// What came of an operation: the number given, if any, or the name of the error.
pub type Outcome = Result<i64, &'static str>;

impl Operation {
    /// Does it to a notebook.
    pub fn apply(&self, book: &mut Notebook) -> Outcome {
        self.run(book).map_err(|error| name_of(&error))
    }

    fn run(&self, book: &mut Notebook) -> Result<i64, NotebookError> {
        let none = |()| 0;
        match self {
            Self::AddPart(part) => book.add_part(part).map(none),
            Self::UpdatePart(id, part) => book.update_part(id, part).map(none),
            Self::DeletePart(id) => book.delete_part(id).map(none),
            Self::ReplaceKit(parts) => book.replace_kit(parts).map(none),
            Self::AddJob(draft, demo) => book.add_job(draft, *demo, NOW).map(|id| id.0),
            Self::UpdateJob(id, draft) => book.update_job(*id, draft).map(none),
            Self::DeleteJob(id) => book.delete_job(*id).map(none),
            Self::AddRoll(job, draft) => book.add_roll(*job, draft).map(|id| id.0),
            Self::UpdateRoll(id, draft) => book.update_roll(*id, draft).map(none),
            Self::DeleteRoll(id) => book.delete_roll(*id).map(none),
            Self::AddFrame(roll, draft) => book.add_frame(*roll, draft).map(|id| id.0),
            Self::UpdateFrame(id, draft) => book.update_frame(*id, draft).map(none),
            Self::DeleteFrame(id) => book.delete_frame(*id).map(none),
            Self::AddScan(draft) => book.add_scan(draft, NOW).map(|id| id.0),
            Self::SetPicture(id, picture) => book.set_scan_picture(*id, picture).map(none),
            Self::SetState(id, state) => book.set_scan_state(*id, state).map(none),
            Self::SetMagnification(id, value) => book.set_scan_magnification(*id, *value).map(none),
            Self::SetPitch(id, pitch, from) => book.set_scan_pitch(*id, *pitch, from).map(none),
            Self::SetFrame(id, frame) => book.set_scan_frame(*id, *frame).map(none),
            Self::SetJob(id, job) => book.set_scan_job(*id, *job).map(none),
            Self::DeleteScan(id) => book.delete_scan(*id).map(|_| 0),
            Self::AddMeasurement(draft) => book.add_measurement(draft, NOW).map(|id| id.0),
            Self::DeleteMeasurement(id) => book.delete_measurement(*id).map(none),
            Self::AddDecision(job, text) => book.add_decision(*job, text, NOW).map(|id| id.0),
            Self::DeleteDecision(id) => book.delete_decision(*id).map(none),
            Self::SetSetting(key, value) => book.set_setting(key, value).map(none),
        }
    }
}

/// The names of the errors that the model knows; any other is a fault.
fn name_of(error: &NotebookError) -> &'static str {
    match error {
        NotebookError::DuplicatePart { .. } => "duplicate part",
        NotebookError::NoSuchPart { .. } => "no part",
        NotebookError::NoSuchJob { .. } => "no job",
        NotebookError::NoSuchRoll { .. } => "no roll",
        NotebookError::NoSuchFrame { .. } => "no frame",
        NotebookError::NoSuchScan { .. } => "no scan",
        NotebookError::NoSuchMeasurement { .. } => "no measurement",
        NotebookError::NoSuchDecision { .. } => "no decision",
        NotebookError::FrameNumberTaken { .. } => "frame taken",
        NotebookError::FrameOfAnotherJob { .. } => "other job's frame",
        NotebookError::StoredNameTaken { .. } => "stored taken",
        NotebookError::Value { .. } => "value",
        NotebookError::Blank { .. } => "blank",
        other => panic!("{other:?}"),
    }
}

// What is drawn comes from small pots, so that names and numbers meet again and again.

fn name() -> impl Strategy<Value = String> {
    select(vec!["a", "b", "c", "d'\"", "", " "]).prop_map(str::to_owned)
}

/// Mostly a good number, now and then one that must be refused.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => 1e-9..1.0_f64,
        8 => select(samples::AWKWARD_NUMBERS.to_vec()),
        1 => select(vec![0.0, -1.0, f64::NAN, f64::INFINITY]),
    ]
}

fn part() -> impl Strategy<Value = PartRecord> {
    (name(), name(), name()).prop_map(|(kind, id, document)| PartRecord { kind, id, document })
}

fn job() -> impl Strategy<Value = JobDraft> {
    let texts = (name(), name(), option::of(name()), name());
    let numbers = (number(), option::of(number()), number(), number(), option::of(number()));
    let shares = (select(vec![0.1, 0.5, 1.0, 1.5]), select(vec![0.2, 1.0, f64::NAN]), select(vec![0.0, 0.2, 1.0]));
    let asked = (option::of(number()), option::of(number()), option::of(number()));
    (texts, numbers, shares, asked).prop_map(|(texts, numbers, shares, asked)| JobDraft {
        title: texts.0,
        subject: texts.1,
        body: texts.2,
        notes: texts.3,
        subject_mm: numbers.0,
        subject_depth_mm: numbers.1,
        print_mm: numbers.2,
        criterion_lp_mm: numbers.3,
        least_working_distance_mm: numbers.4,
        fill: shares.0,
        contrast_needed: shares.1,
        largest_crop: shares.2,
        subject_short_mm: asked.0,
        depth_wanted_mm: asked.1,
        most_stops_lost: asked.2,
    })
}

fn roll() -> impl Strategy<Value = RollDraft> {
    let holds = option::of(select(vec![0_u32, 1, 12, u32::MAX]));
    (name(), name(), option::of(number()), holds, name(), name())
        .prop_map(|(title, film, iso, frames, plan, notes)| RollDraft { title, film, iso, frames, plan, notes })
}

fn frame() -> impl Strategy<Value = FrameDraft> {
    let texts = (name(), vec(name(), 0..3), name(), name());
    let numbers = (0..3_u32, option::of(number()), option::of(number()), option::of(number()));
    let planned = (name(), name(), option::of(select(vec![-0.25, 0.0, f64::MAX, f64::NAN])), name());
    let state = select(vec![FrameState::Planned, FrameState::Shot, FrameState::LeftOut]);
    (texts, numbers, planned, state).prop_map(|(texts, numbers, planned, state)| FrameDraft {
        label: texts.0,
        parts: texts.1,
        focus: texts.2,
        note: texts.3,
        number: numbers.0,
        f_number: numbers.1,
        shutter_s: numbers.2,
        metered_s: numbers.3,
        purpose: planned.0,
        slot: planned.1,
        focus_offset_mm: planned.2,
        exposure_note: planned.3,
        state,
    })
}

fn scan() -> impl Strategy<Value = ScanDraft> {
    (option::of(id()), option::of(id()), name(), "[a-f]?", select(vec![0, 1, 1 << 40, u64::MAX])).prop_map(
        |(job, frame, file_name, stored, bytes)| ScanDraft {
            job: job.map(JobId),
            frame: frame.map(FrameId),
            file_name,
            stored,
            bytes,
        },
    )
}

fn picture() -> impl Strategy<Value = ScanPicture> {
    let size = (select(vec![0, 1, 2200, u32::MAX]), 1..9_u32, select(vec![8_u8, 16, 0]));
    (size, option::of(number()), name(), name(), name()).prop_map(|(size, pitch_um, pitch_from, transfer, about)| {
        ScanPicture { width: size.0, height: size.1, bits: size.2, pitch_um, pitch_from, transfer, about }
    })
}

fn state() -> impl Strategy<Value = ScanState> {
    prop_oneof![
        Just(ScanState::Arriving),
        select(vec![0.0, 0.25, 1.0, 1.01, f64::NAN]).prop_map(|share| ScanState::Preparing { share }),
        Just(ScanState::Ready),
        name().prop_map(|why| ScanState::Failed { why }),
    ]
}

fn magnification() -> impl Strategy<Value = Magnification> {
    let from = select(vec![MagnificationSource::Ruler, MagnificationSource::SetUp, MagnificationSource::Entered]);
    (number(), option::of(number()), from).prop_map(|(value, plus_minus, from)| Magnification {
        value,
        plus_minus,
        from,
    })
}

fn measurement() -> impl Strategy<Value = MeasurementDraft> {
    let kind = select(vec![MeasurementKind::Edge, MeasurementKind::Scale, MeasurementKind::Frame]);
    (id(), kind, name(), name(), name(), name(), name()).prop_map(
        |(scan, kind, label, place, result, settings, made_by)| MeasurementDraft {
            scan: ScanId(scan),
            kind,
            label,
            place,
            result,
            settings,
            made_by,
        },
    )
}

fn id() -> impl Strategy<Value = i64> {
    prop_oneof![20 => 1..6_i64, 1 => Just(0), 1 => Just(-1), 1 => Just(i64::MAX)]
}

/// Any operation.
pub fn operation() -> impl Strategy<Value = Operation> {
    use Operation as O;
    prop_oneof![
        1 => part().prop_map(O::AddPart),
        1 => (name(), part()).prop_map(|(id, part)| O::UpdatePart(id, part)),
        1 => name().prop_map(O::DeletePart),
        1 => vec(part(), 0..4).prop_map(O::ReplaceKit),
        4 => (job(), any::<bool>()).prop_map(|(draft, demo)| O::AddJob(draft, demo)),
        1 => (id(), job()).prop_map(|(id, draft)| O::UpdateJob(JobId(id), draft)),
        1 => id().prop_map(|id| O::DeleteJob(JobId(id))),
        4 => (id(), roll()).prop_map(|(id, draft)| O::AddRoll(JobId(id), draft)),
        1 => (id(), roll()).prop_map(|(id, draft)| O::UpdateRoll(RollId(id), draft)),
        1 => id().prop_map(|id| O::DeleteRoll(RollId(id))),
        6 => (id(), frame()).prop_map(|(id, draft)| O::AddFrame(RollId(id), draft)),
        3 => (id(), frame()).prop_map(|(id, draft)| O::UpdateFrame(FrameId(id), draft)),
        1 => id().prop_map(|id| O::DeleteFrame(FrameId(id))),
        6 => scan().prop_map(O::AddScan),
        1 => (id(), picture()).prop_map(|(id, picture)| O::SetPicture(ScanId(id), picture)),
        1 => (id(), state()).prop_map(|(id, state)| O::SetState(ScanId(id), state)),
        1 => (id(), option::of(magnification())).prop_map(|(id, value)| O::SetMagnification(ScanId(id), value)),
        1 => (id(), option::of(number()), name()).prop_map(|(id, pitch, from)| O::SetPitch(ScanId(id), pitch, from)),
        3 => (id(), option::of(id())).prop_map(|(id, frame)| O::SetFrame(ScanId(id), frame.map(FrameId))),
        3 => (id(), option::of(id())).prop_map(|(id, job)| O::SetJob(ScanId(id), job.map(JobId))),
        1 => id().prop_map(|id| O::DeleteScan(ScanId(id))),
        4 => measurement().prop_map(O::AddMeasurement),
        1 => id().prop_map(|id| O::DeleteMeasurement(MeasurementId(id))),
        2 => (id(), name()).prop_map(|(id, text)| O::AddDecision(JobId(id), text)),
        1 => id().prop_map(|id| O::DeleteDecision(DecisionId(id))),
        1 => (name(), name()).prop_map(|(key, value)| O::SetSetting(key, value)),
    ]
}
