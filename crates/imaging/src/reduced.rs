//! The whole picture at once, made smaller: what is looked for in a scan is looked for here first.

use std::ops::ControlFlow;

use planes::{Linear, Plane, Region};

use crate::error::{Fault, ImagingError};
use crate::scan::{Reading, Scan};
use crate::source::MAX_REGION_BYTES;
use crate::tone::ToneChoice;

/// The whole picture made smaller, and what only the whole can tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Reduced {
    /// The picture.
    pub reading: Reading,
    /// For each channel the share of the file's samples at its zero and at its full scale, 0 to 1.
    pub clipped: Vec<[f64; 2]>,
}

impl Scan {
    /// Linear light of the whole picture as shown, with `factor` × `factor` pixels averaged into one. What is left over at
    /// the right and lower sides is dropped, so that the result has `width / factor` columns and `height / factor` rows (at
    /// least one each). The file is read once, row by row; `progress` hears the share done, 0 to 1, and may
    /// break off: then the error is [`Fault::Cancelled`].
    pub fn read_reduced(
        &mut self,
        factor: u32,
        tone: ToneChoice,
        progress: &mut dyn FnMut(f64) -> ControlFlow<()>,
    ) -> Result<Reduced, ImagingError> {
        let path = self.path().to_owned();
        let (stored, orientation) = (self.stored(), self.info().orientation);
        let channels = self.info().colour.channels();
        // No pixel of the result holds more pixels than the picture has to give.
        let factor = factor.clamp(1, stored.0.min(stored.1).max(1));
        let (width, height) = (self.info().width / factor, self.info().height / factor);
        let shown = Region { x: 0, y: 0, width: width * factor, height: height * factor };
        let region = orientation.to_stored(shown, stored);
        let size = ((region.width / factor) as usize, (region.height / factor) as usize);
        let needed = (size.0 * size.1 * channels * size_of::<f32>()) as u64;
        if needed > MAX_REGION_BYTES {
            return Err(Fault::RegionTooLarge { region: self.whole(), needed }.at(&path));
        }
        let tone = self.tone(tone);
        let mut planes = vec![vec![0.0_f32; size.0 * size.1]; channels];
        let (mut light, mut cancelled) = (Vec::new(), false);
        let mut ends = vec![[0_u64; 2]; channels];
        let mut sums = vec![0.0_f32; size.0 * channels];
        let wide = factor as usize * channels;
        let share = 1.0 / (f64::from(factor) * f64::from(factor)) as f32;
        let mut take = |row: u32, samples: &[u16]| {
            if row.is_multiple_of(256) && progress(f64::from(row) / f64::from(region.height)).is_break() {
                cancelled = true;
                return ControlFlow::Break(());
            }
            let small_row = (row / factor) as usize;
            tone.apply(samples, &mut light);
            // Every tone gives exactly 0 at the file's zero and exactly 1 at its full scale.
            for pixel in light.chunks_exact(channels) {
                for (ends, light) in ends.iter_mut().zip(pixel) {
                    ends[0] += u64::from(*light <= 0.0);
                    ends[1] += u64::from(*light >= 1.0);
                }
            }
            for (pixels, sum) in light.chunks_exact(wide).zip(sums.chunks_exact_mut(channels)) {
                for pixel in pixels.chunks_exact(channels) {
                    sum.iter_mut().zip(pixel).for_each(|(sum, value)| *sum += value);
                }
            }
            if row % factor == factor - 1 {
                for (column, sum) in sums.chunks_exact_mut(channels).enumerate() {
                    let index = orientation.shown_index(column, small_row, size);
                    for (plane, sum) in planes.iter_mut().zip(sum) {
                        plane[index] = std::mem::take(sum) * share;
                    }
                }
            }
            ControlFlow::Continue(())
        };
        let read = self.source().read(region, &mut take);
        if cancelled {
            return Err(Fault::Cancelled.at(&path));
        }
        read.map_err(|fault| fault.at(&path))?;
        let made = planes.into_iter().map(|samples| Plane::<Linear>::new(width as usize, height as usize, samples));
        let planes = made.collect::<Result<_, _>>().map_err(|e| Fault::Damaged(e.to_string()).at(&path))?;
        let remarks = self.info().remarks.iter().chain(&tone.remarks).cloned().collect();
        let reading = Reading { picture: self.picture(planes, tone.luma)?, tone: tone.used, remarks };
        let pixels = f64::from(region.width) * f64::from(region.height);
        Ok(Reduced { reading, clipped: ends.iter().map(|ends| ends.map(|count| count as f64 / pixels)).collect() })
    }
}
