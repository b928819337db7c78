//! A scan's file as the frame that is looked at piece by piece.

use std::ops::ControlFlow;

use imaging::{Fault, ImagingError, Reading, Scan, ToneChoice};
use planes::{Channels, Linear, Picture, Plane, Region};
use recognition::Frame;

use super::negative::{Negative, TurnError, Turner};
use super::take::TakeError;

/// The scan of a frame, read region by region; what is looked at whole is read once and kept small.
pub struct FileFrame<'a> {
    scan: Scan,
    tone: ToneChoice,
    /// The finest reduction so far, with its factor.
    small: Option<(u32, Picture<Linear>)>,
    progress: &'a mut dyn FnMut(f64) -> ControlFlow<()>,
    /// How numbers became light, and what the file gave reason to say.
    pub about: Option<About>,
    /// Share of the file's samples at zero and at full scale by channel, once the whole was read.
    pub clipped: Vec<[f64; 2]>,
    regions: u32,
    turner: Option<Turner>,
}

/// Share of the whole that going through the file takes.
const LOOKING: f64 = 0.4;

/// What reading a file said besides its light.
#[derive(Debug, Clone, PartialEq)]
pub struct About {
    /// How numbers became light.
    pub transfer: String,
    /// Sentences.
    pub remarks: Vec<String>,
}

impl<'a> FileFrame<'a> {
    /// The frame of an opened scan. `progress` hears the share done, 0 to 1, as far as it can be foreseen, and may break off.
    pub fn new(
        scan: Scan,
        tone: ToneChoice,
        progress: &'a mut dyn FnMut(f64) -> ControlFlow<()>,
    ) -> Result<Self, ImagingError> {
        let mut frame =
            Self { scan, tone, small: None, progress, about: None, clipped: Vec::new(), regions: 0, turner: None };
        // Every region of such a file would unpack it from its beginning again.
        if frame.scan.unpacks_from_the_beginning() {
            let path = frame.scan.path().to_owned();
            let unpacked = tempfile::tempfile().map_err(|e| ImagingError { path, fault: Fault::Write(e) })?;
            frame.scan.spool(unpacked, &mut |share| (frame.progress)(LOOKING * share))?;
        }
        Ok(frame)
    }

    /// From here on pieces are turned from a negative into exposure.
    pub fn turned(&mut self, negative: &Negative) -> Result<(), TakeError> {
        self.turner = Some(Turner::new(negative, &mut self.scan, self.tone)?);
        Ok(())
    }

    fn turn(&self, picture: Picture<Linear>) -> Result<Picture<Linear>, ImagingError> {
        let Some(turner) = &self.turner else { return Ok(picture) };
        // Whether base, curves and picture go together was tried when the turner was made.
        let broken = |error: TurnError| ImagingError {
            path: self.scan.path().to_owned(),
            fault: Fault::Damaged(error.to_string()),
        };
        turner.turn(&picture).map_err(broken)
    }

    fn note(&mut self, reading: &Reading) {
        self.about.get_or_insert_with(|| About {
            transfer: reading.tone.label(),
            remarks: reading.remarks.iter().map(ToString::to_string).collect(),
        });
    }
}

impl Frame for FileFrame<'_> {
    type Error = ImagingError;

    fn size(&self) -> (u32, u32) {
        (self.scan.info().width, self.scan.info().height)
    }

    fn reduced(&mut self, factor: u32) -> Result<Picture<Linear>, ImagingError> {
        let kept = self.small.as_ref().filter(|(of, picture)| {
            // A mean of means is the mean, as long as no pixel is dropped on the way.
            let again = factor / of;
            factor.is_multiple_of(*of)
                && (self.size().0 / factor) <= picture.width() as u32 / again
                && (self.size().1 / factor) <= picture.height() as u32 / again
        });
        if let Some((of, picture)) = kept {
            return Ok(smaller(picture, (factor / of) as usize));
        }
        let read = self.scan.read_reduced(factor, self.tone, &mut |share| (self.progress)(LOOKING * share))?;
        let reading = read.reading;
        self.clipped = read.clipped;
        self.note(&reading);
        let picture = self.turn(reading.picture)?;
        if self.small.as_ref().is_none_or(|(of, _)| factor < *of) {
            self.small = Some((factor, picture.clone()));
        }
        Ok(picture)
    }

    fn region(&mut self, region: Region) -> Result<Picture<Linear>, ImagingError> {
        self.regions(&[region]).map(|mut one| one.remove(0))
    }

    fn regions(&mut self, regions: &[Region]) -> Result<Vec<Picture<Linear>>, ImagingError> {
        // Nobody knows how many regions will be asked for; about a hundred are usual.
        self.regions += regions.len() as u32;
        let share = f64::from(self.regions) / (f64::from(self.regions) + 50.0);
        if (self.progress)(LOOKING + (1.0 - LOOKING) * share).is_break() {
            return Err(ImagingError { path: self.scan.path().to_owned(), fault: Fault::Cancelled });
        }
        let readings = self.scan.read_linear_regions(regions, self.tone)?;
        readings.iter().for_each(|reading| self.note(reading));
        readings.into_iter().map(|reading| self.turn(reading.picture)).collect()
    }
}

fn smaller(picture: &Picture<Linear>, factor: usize) -> Picture<Linear> {
    let plane = |plane: &Plane<Linear>| {
        let mean = |column: usize, row: usize| {
            let sum: f32 = (0..factor)
                .map(|down| plane.row(row * factor + down)[column * factor..][..factor].iter().sum::<f32>())
                .sum();
            sum / (factor * factor) as f32
        };
        Plane::from_fn(plane.width() / factor, plane.height() / factor, mean).expect("never less than one pixel")
    };
    match picture.channels() {
        Channels::Grey(grey) => Picture::grey(plane(grey)),
        Channels::Rgb { planes, luma } => {
            Picture::rgb([0, 1, 2].map(|i| plane(&planes[i])), *luma).expect("planes of one size stay of one size")
        }
    }
}
