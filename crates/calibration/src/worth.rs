//! What each frame is worth: how sure the figures become with it.

use crate::error::CalibrationError;
use crate::fit::expected;
use crate::frame::{Frame, MOST_FRAMES, Options, check, check_lengths};
use crate::lens::{Fitted, LensModel, Unknown};
use optics::COVERAGE_95;

/// How sure the figures are with that many frames.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// How many frames.
    pub frames: usize,
    /// The frame that was added last; for one not yet taken, the candidate that it would be like.
    pub added: String,
    /// Whether that frame is yet to be taken.
    pub to_take: bool,
    /// Half-width of the focal length (95 %), mm; `None` while it cannot be told.
    pub focal_length: Option<f64>,
    /// Half-width of the travel at the closest mark (95 %), mm.
    pub travel: Option<f64>,
    /// Half-width of the principal separation (95 %), mm.
    pub separation: Option<f64>,
}

/// What frames are worth.
#[derive(Debug, Clone, PartialEq)]
pub struct Worth {
    /// With the first frame, the first two, and so on; then with frames yet to be taken.
    pub steps: Vec<Step>,
    /// The candidate that makes the focal length surest as the very next frame; `None` when none was asked for.
    pub tells_most: Option<String>,
}

/// The half-widths to be expected as frames are added: those in `frames` in their order, then ones yet to be taken up
/// to `most` altogether, each like that one of the candidates in `next` which lowers u(f) most (of `frames` themselves
/// when `next` is empty).
///
/// Only the law of propagation, at the figures fitted to all `frames`: no residual has a part in it, so a scatter
/// beyond the stated uncertainties or an outlier is not foreseen. Of a candidate, extension, focusing and the
/// half-widths count; the figure of its magnification and distance does not. A repeated frame has new readings on the
/// same pieces of metal: the error of its tube does not average out.
///
/// Adding a frame adds information and never takes any, so no half-width rises from step to step.
pub fn worth(frames: &[Frame], next: &[Frame], most: usize, options: &Options) -> Result<Worth, CalibrationError> {
    check(frames, options)?;
    if most > MOST_FRAMES {
        return Err(CalibrationError::TooManyFrames { count: most, most: MOST_FRAMES });
    }
    // Candidates may bear the names of frames that were taken: to repeat these is what they are for.
    if !next.is_empty() {
        check(next, options)?;
        check_lengths(frames.iter().chain(next))?;
    }
    let all: Vec<usize> = (0..frames.len()).collect();
    let fitted = match Fitted::new(frames, &all, options, options.fit_zero) {
        Err(CalibrationError::NotTold { .. }) if options.fit_zero => Fitted::new(frames, &all, options, false)?,
        fitted => fitted?,
    };
    let ground = Ground { fitted, options };
    let mut taken = Vec::with_capacity(most);
    let mut steps = Vec::new();
    for frame in frames {
        taken.push(frame.clone());
        steps.push(ground.step(&taken, &frame.id, false));
    }
    let candidates = if next.is_empty() { frames } else { next };
    let mut tells_most = None;
    while taken.len() < most {
        let best = candidates
            .iter()
            .map(|candidate| (candidate, ground.with(&taken, candidate)))
            // The first of equals, so that the answer does not hang on rounding of the last.
            .min_by(|(_, p), (_, q)| ground.variance(p).total_cmp(&ground.variance(q)));
        let Some((candidate, with)) = best else { break };
        tells_most.get_or_insert_with(|| candidate.id.clone());
        steps.push(ground.step(&with, &candidate.id, true));
        taken = with;
    }
    Ok(Worth { steps, tells_most })
}

/// Where the slopes are taken.
struct Ground<'a> {
    fitted: Fitted,
    options: &'a Options,
}

impl Ground<'_> {
    /// The frames and one more like `candidate`, under a name that no other has.
    fn with(&self, taken: &[Frame], candidate: &Frame) -> Vec<Frame> {
        let mut with = taken.to_vec();
        let mut repeated = candidate.clone();
        repeated.id = format!("{} (frame {})", candidate.id, with.len() + 1);
        with.push(repeated);
        with
    }

    /// Variances of all unknowns; `None` when some cannot be told.
    fn variances(&self, frames: &[Frame]) -> Option<(Vec<Unknown>, Vec<f64>)> {
        let zero = self.fitted.estimate(&Unknown::Zero).is_some();
        let model = LensModel::new(frames, self.options, zero);
        let known = |(index, unknown): (usize, &Unknown)| {
            let place = self.fitted.model.unknowns.iter().position(|known| known == unknown);
            let stated = || model.stated_of(index).map_or(0.0, |input| input.value);
            match (place, unknown) {
                (Some(place), _) => self.fitted.fit.values[place],
                // A candidate at the closest mark, when no frame was taken there: any travel serves to ask what it
                // would tell, and an eighth of the focal length is a usual one (common practice, no source).
                (None, Unknown::Travel) => self.fitted.fit.values[0] / 8.0,
                (None, _) => stated(),
            }
        };
        let values: Vec<f64> = model.unknowns.iter().enumerate().map(known).collect();
        let covariance = expected(&model, &model.readings, &values).ok()?;
        let variances = (0..values.len()).map(|index| covariance[index][index]).collect();
        Some((model.unknowns, variances))
    }

    fn variance(&self, frames: &[Frame]) -> f64 {
        self.variances(frames).map_or(f64::INFINITY, |(_, variances)| variances[0])
    }

    fn step(&self, frames: &[Frame], added: &str, to_take: bool) -> Step {
        let told = self.variances(frames);
        let half_width = |wanted: &Unknown| {
            let (unknowns, variances) = told.as_ref()?;
            let index = unknowns.iter().position(|unknown| unknown == wanted)?;
            Some(COVERAGE_95 * variances[index].sqrt())
        };
        Step {
            frames: frames.len(),
            added: added.to_owned(),
            to_take,
            focal_length: half_width(&Unknown::FocalLength),
            travel: half_width(&Unknown::Travel),
            separation: half_width(&Unknown::Separation),
        }
    }
}
