//! A notebook as one would write it without a database: lists and maps. Slow, in memory, and plain enough to be
//! seen to be right.

use std::collections::BTreeMap;

use notebook::{
    Decision, DecisionId, Frame, FrameDraft, FrameId, FrameState, Job, JobDraft, JobId, Magnification, Matched,
    Measurement, MeasurementDraft, MeasurementId, Notebook, PartRecord, Roll, RollDraft, RollId, Scan, ScanDraft,
    ScanId, ScanPicture, ScanState,
};

use crate::operations::{Operation, Outcome};
use crate::samples::NOW;

/// Entries by their numbers, and the last number given out.
#[derive(Debug, Clone, PartialEq)]
struct Shelf<T> {
    entries: BTreeMap<i64, T>,
    last: i64,
}

impl<T> Default for Shelf<T> {
    fn default() -> Self {
        Self { entries: BTreeMap::new(), last: 0 }
    }
}

impl<T: Clone> Shelf<T> {
    fn add(&mut self, entry: impl FnOnce(i64) -> T) -> Outcome {
        self.last += 1;
        self.entries.insert(self.last, entry(self.last));
        Ok(self.last)
    }

    fn list(&self) -> Vec<T> {
        self.entries.values().cloned().collect()
    }

    fn need(&mut self, id: i64, missing: &'static str) -> Result<&mut T, &'static str> {
        self.entries.get_mut(&id).ok_or(missing)
    }

    fn remove(&mut self, id: i64, missing: &'static str) -> Outcome {
        self.entries.remove(&id).map(|_| 0).ok_or(missing)
    }
}

#[derive(Debug, Clone, Default, PartialEq)]
pub struct Model {
    parts: Vec<PartRecord>,
    jobs: Shelf<Job>,
    rolls: Shelf<Roll>,
    frames: Shelf<Frame>,
    scans: Shelf<Scan>,
    measurements: Shelf<Measurement>,
    decisions: Shelf<Decision>,
    settings: BTreeMap<String, String>,
}

fn require(holds: bool, otherwise: &'static str) -> Outcome {
    if holds { Ok(0) } else { Err(otherwise) }
}

fn blank(text: &str) -> bool {
    text.trim().is_empty()
}

fn above_zero(number: f64) -> bool {
    number > 0.0 && number < f64::INFINITY
}

fn at_least_zero(number: f64) -> bool {
    number == 0.0 || above_zero(number)
}

fn share(number: f64) -> bool {
    above_zero(number) && number <= 1.0
}

fn check_part(part: &PartRecord) -> Outcome {
    require(!blank(&part.id) && !blank(&part.kind), "blank")
}

fn check_job(job: &JobDraft) -> Outcome {
    require(!blank(&job.title), "blank")?;
    let lengths = [job.subject_mm, job.print_mm, job.criterion_lp_mm].into_iter().all(above_zero);
    let maybe =
        job.subject_depth_mm.is_none_or(at_least_zero) && job.least_working_distance_mm.is_none_or(at_least_zero);
    let asked = [job.depth_wanted_mm, job.most_stops_lost].into_iter().flatten().all(at_least_zero);
    let maybe = maybe && asked && job.subject_short_mm.is_none_or(above_zero);
    let maybe = maybe && (0.0..1.0).contains(&job.largest_crop);
    require(lengths && maybe && share(job.fill) && share(job.contrast_needed), "value")
}

fn check_roll(roll: &RollDraft) -> Outcome {
    require(roll.iso.is_none_or(above_zero) && roll.frames != Some(0), "value")
}

fn check_frame(frame: &FrameDraft) -> Outcome {
    let numbers = [frame.f_number, frame.shutter_s, frame.metered_s];
    let offset = frame.focus_offset_mm.is_none_or(f64::is_finite);
    require(numbers.into_iter().flatten().all(above_zero) && offset, "value")
}

fn check_picture(picture: &ScanPicture) -> Outcome {
    let counts = picture.width > 0 && picture.height > 0 && picture.bits > 0;
    require(counts && picture.pitch_um.is_none_or(above_zero), "value")
}

fn check_state(state: &ScanState) -> Outcome {
    match state {
        ScanState::Preparing { share } => require(at_least_zero(*share) && *share <= 1.0, "value"),
        _ => Ok(0),
    }
}

fn check_magnification(given: Option<Magnification>) -> Outcome {
    let good = given.is_none_or(|m| above_zero(m.value) && m.plus_minus.is_none_or(at_least_zero));
    require(good, "value")
}

impl Model {
    /// Does an operation to the model.
    pub fn apply(&mut self, operation: &Operation) -> Outcome {
        use Operation as O;
        match operation {
            O::AddPart(part) => self.add_part(part),
            O::UpdatePart(id, part) => self.update_part(id, part),
            O::DeletePart(id) => self.delete_part(id),
            O::ReplaceKit(parts) => self.replace_kit(parts),
            O::AddJob(draft, demo) => self.add_job(draft, *demo),
            O::UpdateJob(id, draft) => self.update_job(*id, draft),
            O::DeleteJob(id) => self.delete_job(*id),
            O::AddRoll(job, draft) => self.add_roll(*job, draft),
            O::UpdateRoll(id, draft) => self.update_roll(*id, draft),
            O::DeleteRoll(id) => self.delete_roll(*id),
            O::AddFrame(roll, draft) => self.add_frame(*roll, draft),
            O::UpdateFrame(id, draft) => self.update_frame(*id, draft),
            O::DeleteFrame(id) => self.delete_frame(*id),
            O::AddScan(draft) => self.add_scan(draft),
            O::SetFrame(id, frame) => self.set_frame(*id, *frame),
            O::SetJob(id, job) => self.set_job(*id, *job),
            O::DeleteScan(id) => self.delete_scan(*id),
            O::AddMeasurement(draft) => self.add_measurement(draft),
            O::DeleteMeasurement(id) => self.measurements.remove(id.0, "no measurement"),
            O::AddDecision(job, text) => self.add_decision(*job, text),
            O::DeleteDecision(id) => self.decisions.remove(id.0, "no decision"),
            O::SetSetting(key, value) => self.set_setting(key, value),
            noted => self.note(noted),
        }
    }

    /// What is only noted of a scan.
    fn note(&mut self, operation: &Operation) -> Outcome {
        match operation {
            Operation::SetPicture(id, picture) => {
                check_picture(picture)?;
                note_picture(self.scans.need(id.0, "no scan")?, picture);
            }
            Operation::SetState(id, state) => {
                check_state(state)?;
                self.scans.need(id.0, "no scan")?.state = state.clone();
            }
            Operation::SetMagnification(id, value) => {
                check_magnification(*value)?;
                self.scans.need(id.0, "no scan")?.magnification = *value;
            }
            Operation::SetPitch(id, pitch_um, from) => {
                require(pitch_um.is_none_or(above_zero), "value")?;
                let scan = self.scans.need(id.0, "no scan")?;
                (scan.pitch_um, scan.pitch_from) = (*pitch_um, from.clone());
            }
            other => unreachable!("{other:?}"),
        }
        Ok(0)
    }

    fn place(&self, id: &str) -> Option<usize> {
        self.parts.iter().position(|part| part.id == id)
    }

    fn add_part(&mut self, part: &PartRecord) -> Outcome {
        check_part(part)?;
        require(self.place(&part.id).is_none(), "duplicate part")?;
        self.parts.push(part.clone());
        Ok(0)
    }

    fn update_part(&mut self, old: &str, part: &PartRecord) -> Outcome {
        check_part(part)?;
        let place = self.place(old).ok_or("no part")?;
        require(self.place(&part.id).is_none_or(|taken| taken == place), "duplicate part")?;
        self.parts[place] = part.clone();
        Ok(0)
    }

    fn delete_part(&mut self, id: &str) -> Outcome {
        let place = self.place(id).ok_or("no part")?;
        self.parts.remove(place);
        Ok(0)
    }

    fn replace_kit(&mut self, parts: &[PartRecord]) -> Outcome {
        let mut fresh = Model::default();
        for part in parts {
            fresh.add_part(part)?;
        }
        self.parts = fresh.parts;
        Ok(0)
    }

    fn add_job(&mut self, draft: &JobDraft, demo: bool) -> Outcome {
        check_job(draft)?;
        self.jobs.add(|id| Job { id: JobId(id), draft: draft.clone(), demo, created: NOW.into() })
    }

    fn update_job(&mut self, id: JobId, draft: &JobDraft) -> Outcome {
        check_job(draft)?;
        self.jobs.need(id.0, "no job")?.draft = draft.clone();
        Ok(0)
    }

    fn delete_job(&mut self, id: JobId) -> Outcome {
        self.jobs.remove(id.0, "no job")?;
        for roll in self.rolls.list().into_iter().filter(|roll| roll.job == id) {
            self.delete_roll(roll.id)?;
        }
        self.decisions.entries.retain(|_, decision| decision.job != id);
        for scan in self.scans.entries.values_mut().filter(|scan| scan.job == Some(id)) {
            scan.job = None;
        }
        Ok(0)
    }

    fn add_roll(&mut self, job: JobId, draft: &RollDraft) -> Outcome {
        check_roll(draft)?;
        self.jobs.need(job.0, "no job")?;
        self.rolls.add(|id| Roll { id: RollId(id), job, draft: draft.clone(), at_camera: false })
    }

    fn update_roll(&mut self, id: RollId, draft: &RollDraft) -> Outcome {
        check_roll(draft)?;
        self.rolls.need(id.0, "no roll")?.draft = draft.clone();
        Ok(0)
    }

    fn delete_roll(&mut self, id: RollId) -> Outcome {
        self.rolls.remove(id.0, "no roll")?;
        for frame in self.frames.list().into_iter().filter(|frame| frame.roll == id) {
            self.delete_frame(frame.id)?;
        }
        Ok(0)
    }

    fn is_free(&self, roll: RollId, number: u32, but: Option<FrameId>) -> bool {
        let mut others = self.frames.entries.values().filter(|frame| Some(frame.id) != but);
        !others.any(|frame| frame.roll == roll && frame.number == number)
    }

    fn add_frame(&mut self, roll: RollId, draft: &FrameDraft) -> Outcome {
        check_frame(draft)?;
        self.rolls.need(roll.0, "no roll")?;
        require(self.is_free(roll, draft.number, None), "frame taken")?;
        self.frames.add(|id| Frame { id: FrameId(id), roll, draft: draft.clone(), planned: None })
    }

    fn update_frame(&mut self, id: FrameId, draft: &FrameDraft) -> Outcome {
        check_frame(draft)?;
        let roll = self.frames.need(id.0, "no frame")?.roll;
        require(self.is_free(roll, draft.number, Some(id)), "frame taken")?;
        let frame = self.frames.need(id.0, "no frame")?;
        // The plan is what stood there before the frame was taken; it counts as long as what was taken differs.
        let plan = if frame.state != FrameState::Shot { Some(frame.draft.exposed()) } else { frame.planned.clone() };
        frame.planned = plan.filter(|plan| draft.state == FrameState::Shot && *plan != draft.exposed());
        frame.draft = draft.clone();
        Ok(0)
    }

    fn delete_frame(&mut self, id: FrameId) -> Outcome {
        self.frames.remove(id.0, "no frame")?;
        for scan in self.scans.entries.values_mut().filter(|scan| scan.frame == Some(id)) {
            (scan.frame, scan.matched) = (None, None);
        }
        Ok(0)
    }

    fn job_of(&mut self, frame: FrameId) -> Result<JobId, &'static str> {
        let roll = self.frames.need(frame.0, "no frame")?.roll;
        Ok(self.rolls.need(roll.0, "no roll")?.job)
    }

    fn add_scan(&mut self, draft: &ScanDraft) -> Outcome {
        require(!blank(&draft.stored), "blank")?;
        require(draft.bytes < 1 << 63, "value")?;
        let mut job = draft.job;
        if let Some(job) = job {
            self.jobs.need(job.0, "no job")?;
        }
        if let Some(frame) = draft.frame {
            let belongs_to = self.job_of(frame)?;
            require(job.is_none_or(|job| job == belongs_to), "other job's frame")?;
            job = Some(belongs_to);
        }
        require(self.scans.entries.values().all(|scan| scan.stored != draft.stored), "stored taken")?;
        self.scans.add(|id| arrived(ScanId(id), job, draft))
    }

    fn set_frame(&mut self, id: ScanId, frame: Option<FrameId>) -> Outcome {
        let job = frame.map(|frame| self.job_of(frame)).transpose()?;
        let scan = self.scans.need(id.0, "no scan")?;
        (scan.frame, scan.matched) = (frame, frame.map(|_| Matched::Hand));
        scan.job = job.or(scan.job);
        Ok(0)
    }

    fn set_job(&mut self, id: ScanId, job: Option<JobId>) -> Outcome {
        if let Some(job) = job {
            self.jobs.need(job.0, "no job")?;
        }
        let scan = self.scans.need(id.0, "no scan")?;
        if scan.job != job {
            (scan.frame, scan.matched) = (None, None);
        }
        scan.job = job;
        Ok(0)
    }

    fn delete_scan(&mut self, id: ScanId) -> Outcome {
        self.scans.remove(id.0, "no scan")?;
        self.measurements.entries.retain(|_, measurement| measurement.scan != id);
        Ok(0)
    }

    fn add_measurement(&mut self, draft: &MeasurementDraft) -> Outcome {
        self.scans.need(draft.scan.0, "no scan")?;
        let kept = |id| Measurement { id: MeasurementId(id), draft: draft.clone(), created: NOW.into() };
        self.measurements.add(kept)
    }

    fn add_decision(&mut self, job: JobId, text: &str) -> Outcome {
        require(!blank(text), "blank")?;
        self.jobs.need(job.0, "no job")?;
        self.decisions.add(|id| Decision { id: DecisionId(id), job, text: text.into(), created: NOW.into() })
    }

    fn set_setting(&mut self, key: &str, value: &str) -> Outcome {
        self.settings.insert(key.into(), value.into());
        Ok(0)
    }

    /// Asserts that a notebook holds exactly what the model holds, by every way of asking.
    pub fn assert_same(&self, book: &Notebook) {
        assert_eq!(book.parts().unwrap(), self.parts);
        assert_eq!(book.jobs().unwrap(), self.jobs.list());
        assert_eq!(book.scans().unwrap(), self.scans.list());
        let on_their_way = |scan: &Scan| matches!(scan.state, ScanState::Arriving | ScanState::Preparing { .. });
        let interrupted: Vec<_> = self.scans.list().into_iter().filter(on_their_way).collect();
        assert_eq!(book.interrupted_scans().unwrap(), interrupted);
        self.assert_same_jobs(book);
        self.assert_same_numbers(book);
        for (key, value) in &self.settings {
            assert_eq!(book.setting(key).unwrap().as_ref(), Some(value));
        }
        book.check().unwrap();
    }

    /// What hangs on each job, also on those that never were or are no more.
    fn assert_same_jobs(&self, book: &Notebook) {
        for job in (0..=self.jobs.last + 1).map(JobId) {
            let rolls: Vec<_> = self.rolls.list().into_iter().filter(|roll| roll.job == job).collect();
            let mut frames = Vec::new();
            for roll in &rolls {
                let mut of_roll: Vec<_> =
                    self.frames.list().into_iter().filter(|frame| frame.roll == roll.id).collect();
                of_roll.sort_by_key(|frame| frame.number);
                assert_eq!(book.frames(roll.id).unwrap(), of_roll);
                frames.extend(of_roll);
            }
            assert_eq!(book.rolls(job).unwrap(), rolls);
            assert_eq!(book.frames_of_job(job).unwrap(), frames);
            let scans: Vec<_> = self.scans.list().into_iter().filter(|scan| scan.job == Some(job)).collect();
            let measured = self.measurements.list().into_iter();
            let measured: Vec<_> = measured.filter(|m| scans.iter().any(|scan| scan.id == m.scan)).collect();
            assert_eq!(book.scans_of_job(job).unwrap(), scans);
            assert_eq!(book.measurements_of_job(job).unwrap(), measured);
            let decided: Vec<_> = self.decisions.list().into_iter().filter(|d| d.job == job).collect();
            assert_eq!(book.decisions(job).unwrap(), decided);
        }
    }

    /// Each entry asked for by its number.
    fn assert_same_numbers(&self, book: &Notebook) {
        for id in 0..=self.jobs.last + 1 {
            assert_eq!(book.job(JobId(id)).unwrap().as_ref(), self.jobs.entries.get(&id));
        }
        for id in 0..=self.rolls.last + 1 {
            assert_eq!(book.roll(RollId(id)).unwrap().as_ref(), self.rolls.entries.get(&id));
        }
        for id in 0..=self.frames.last + 1 {
            assert_eq!(book.frame(FrameId(id)).unwrap().as_ref(), self.frames.entries.get(&id));
            let scan = self.scans.entries.values().rfind(|scan| scan.frame == Some(FrameId(id)));
            assert_eq!(book.scan_of_frame(FrameId(id)).unwrap().as_ref(), scan);
        }
        for id in 0..=self.scans.last + 1 {
            assert_eq!(book.scan(ScanId(id)).unwrap().as_ref(), self.scans.entries.get(&id));
            let measured: Vec<_> = self.measurements.list().into_iter().filter(|m| m.scan.0 == id).collect();
            assert_eq!(book.measurements(ScanId(id)).unwrap(), measured);
        }
        for id in 0..=self.measurements.last + 1 {
            assert_eq!(book.measurement(MeasurementId(id)).unwrap().as_ref(), self.measurements.entries.get(&id));
        }
    }
}

fn arrived(id: ScanId, job: Option<JobId>, draft: &ScanDraft) -> Scan {
    Scan {
        id,
        job,
        frame: draft.frame,
        file_name: draft.file_name.clone(),
        stored: draft.stored.clone(),
        bytes: draft.bytes,
        width: None,
        height: None,
        bits: None,
        pitch_um: None,
        pitch_from: String::new(),
        transfer: String::new(),
        about: String::new(),
        magnification: None,
        matched: draft.frame.map(|_| Matched::Hand),
        state: ScanState::Arriving,
        created: NOW.into(),
    }
}

fn note_picture(scan: &mut Scan, picture: &ScanPicture) {
    scan.width = Some(picture.width);
    scan.height = Some(picture.height);
    scan.bits = Some(picture.bits);
    scan.pitch_um = picture.pitch_um;
    scan.pitch_from.clone_from(&picture.pitch_from);
    scan.transfer.clone_from(&picture.transfer);
    scan.about.clone_from(&picture.about);
}
