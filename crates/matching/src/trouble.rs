//! Matches that cannot all be right.

use crate::facts::{Film, Fit, Scan, Size};

/// Something about the matches that a person should look at.
#[derive(Debug, Clone, PartialEq)]
pub enum Trouble {
    /// What was measured in the scan and what was planned for its frame lie apart by more than both uncertainties.
    Disagrees {
        /// The scan.
        scan: usize,
        /// Its frame.
        frame: usize,
        /// As measured.
        measured: Size,
        /// As planned.
        planned: Size,
        /// The other frames whose magnification agrees, the nearest first.
        agreeing: Vec<usize>,
    },
    /// Several scans show one frame.
    Shared {
        /// The frame.
        frame: usize,
        /// The scans.
        scans: Vec<usize>,
    },
    /// Frames without a scan.
    WithoutScan(Vec<usize>),
    /// Scans without a frame.
    WithoutFrame(Vec<usize>),
    /// There are more scans than frames that may have one.
    MoreScansThanFrames {
        /// Scans.
        scans: usize,
        /// Frames.
        frames: usize,
    },
}

/// Looks over matches: `shown[scan]` is the frame that a scan shows.
///
/// # Panics
///
/// When `shown` is not as long as `scans`, or names a frame that the film has not.
pub fn troubles(film: &Film, scans: &[Scan], shown: &[Option<usize>]) -> Vec<Trouble> {
    assert_eq!(scans.len(), shown.len(), "a frame or none for every scan");
    let mut found: Vec<Trouble> =
        (0..scans.len()).filter_map(|scan| disagreement(film, &scans[scan], scan, shown[scan]?)).collect();
    let mut of_frame: Vec<Vec<usize>> = vec![Vec::new(); film.frames.len()];
    for (scan, frame) in shown.iter().enumerate().filter_map(|(scan, frame)| Some((scan, (*frame)?))) {
        of_frame[frame].push(scan);
    }
    for (frame, scans) in of_frame.iter().enumerate().filter(|(_, scans)| scans.len() > 1) {
        found.push(Trouble::Shared { frame, scans: scans.clone() });
    }
    let without_scan: Vec<usize> = film.present().filter(|frame| of_frame[*frame].is_empty()).collect();
    let without_frame: Vec<usize> = (0..scans.len()).filter(|scan| shown[*scan].is_none()).collect();
    let frames = film.present().count();
    if scans.len() > frames {
        found.push(Trouble::MoreScansThanFrames { scans: scans.len(), frames });
    }
    if !without_scan.is_empty() {
        found.push(Trouble::WithoutScan(without_scan));
    }
    if !without_frame.is_empty() {
        found.push(Trouble::WithoutFrame(without_frame));
    }
    found
}

fn disagreement(film: &Film, known: &Scan, scan: usize, frame: usize) -> Option<Trouble> {
    let (measured, planned) = (known.size?, film.frames[frame].size?);
    if measured.fit(planned) == Fit::Agrees {
        return None;
    }
    let apart = |index: &usize| film.frames[*index].size.map_or(f64::INFINITY, |planned| measured.apart(planned));
    let mut agreeing: Vec<usize> = film.present().filter(|index| apart(index) <= 1.0).collect();
    agreeing.sort_by(|a, b| apart(a).total_cmp(&apart(b)));
    agreeing.truncate(crate::MOST_CANDIDATES);
    Some(Trouble::Disagrees { scan, frame, measured, planned, agreeing })
}
