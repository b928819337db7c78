//! One frame from its file to its document.

use std::ops::ControlFlow;
use std::path::Path;

use imaging::{Fault, ImagingError, Scan, ToneChoice};
use measure::{EdgeOptions, FindOptions};
use planes::Region;
use recognition::Frame;

use super::fringes::fringing;
use super::gather::{Around, Taken};
use super::settings::{Settings, tone};
use super::source::FileFrame;
use crate::documents::{FrameDocument, LeftOutDocument, MADE_BY, Measured, Sizes};

/// Why a frame was not measured.
#[derive(Debug, thiserror::Error)]
pub enum TakeError {
    /// The file cannot be read, or reading was broken off.
    #[error(transparent)]
    Picture(#[from] ImagingError),
    /// Neither the card nor an edge is in the picture.
    #[error(
        "the picture holds nothing that can be measured by itself: no target card, and no straight edge that is long, slanted and \
         contrasty enough; photograph the card, or name a region with \"closework measure edge --roi\""
    )]
    Nothing,
}

impl TakeError {
    /// Whether the person broke it off.
    pub fn is_cancelled(&self) -> bool {
        matches!(self, Self::Picture(ImagingError { fault: Fault::Cancelled, .. }))
    }
}

/// Pixels that are looked at when edges are looked for.
const LOOKED_AT: f64 = 3e6;
/// Edges that are measured in a picture without the card.
const MOST_EDGES: usize = 24;

/// Measures a file. `progress` hears the share done, 0 to 1, and may break off.
pub fn take(
    path: &Path,
    name: &str,
    settings: &Settings,
    progress: &mut dyn FnMut(f64) -> ControlFlow<()>,
) -> Result<FrameDocument, TakeError> {
    let scan = Scan::open(path)?;
    let tone = tone(&settings.transfer).unwrap_or(ToneChoice::Icc);
    let info = scan.info();
    let (from_file, size) = (info.pitch_um, (info.width, info.height));
    let pitch_um = settings.pitch_um.or(from_file);
    let mut looked = |share: f64| progress(0.4 * share);
    let mut frame = FileFrame::new(scan, tone, &mut looked)?;
    let mut left_out = Vec::new();
    let edges = by_edges(&mut frame, &mut left_out)?;
    if edges.is_empty() {
        return Err(TakeError::Nothing);
    }
    let about = frame.about.clone();
    let sizes = Sizes { pitch_um, magnification: settings.magnification };
    let transfer = about.as_ref().map_or("", |about| about.transfer.as_str());
    let around = Around { size, sizes, transfer, settings };
    let places = around.places(&edges);
    let zones = around.zones(&edges, &places);
    let document = FrameDocument {
        file: name.into(),
        width_px: size.0,
        height_px: size.1,
        transfer: transfer.into(),
        pitch_um,
        pitch_from: if settings.pitch_um.is_some() {
            "given"
        } else if from_file.is_some() {
            "file"
        } else {
            ""
        }
        .into(),
        magnification: settings.magnification.map(|value| Measured { value, plus_minus: 0.0 }),
        magnification_from: if settings.magnification.is_some() { "given".into() } else { String::new() },
        card: None,
        fringing: fringing(&around, &edges, &mut left_out),
        places,
        zones,
        contrast: Default::default(),
        evenness: None,
        exposure: None,
        grain: None,
        rulers: Vec::new(),
        ramps: Vec::new(),
        alignment: None,
        left_out,
        warnings: about.map(|about| about.remarks).unwrap_or_default(),
        settings: settings.clone(),
        made_by: MADE_BY.into(),
    };
    Ok(document)
}

/// The edges that are found in the picture.
fn by_edges(frame: &mut FileFrame<'_>, left_out: &mut Vec<LeftOutDocument>) -> Result<Vec<Taken>, ImagingError> {
    let (width, height) = frame.size();
    let factor = (f64::from(width) * f64::from(height) / LOOKED_AT).sqrt().ceil().max(1.0) as u32;
    let small = frame.reduced(factor)?;
    let options = FindOptions { scale: f64::from(factor), most: MOST_EDGES, ..FindOptions::default() };
    let mut taken = Vec::new();
    for (number, found) in measure::find_edges(&small, &options).into_iter().enumerate() {
        let picture = frame.region(found.region)?;
        let place = format!("edge {}", number + 1);
        match measure::edge(&picture, &EdgeOptions::default()) {
            Ok(report) => {
                let Region { x, y, width: w, height: h } = found.region;
                let at_px = (f64::from(x) + f64::from(w) / 2.0, f64::from(y) + f64::from(h) / 2.0);
                let middle = (f64::from(width) / 2.0, f64::from(height) / 2.0);
                let normal_deg = measure::bright_normal_deg(&picture, &report);
                let direction = measure::edge_direction(&report, at_px, middle);
                taken.push(Taken {
                    place,
                    zone: String::new(),
                    at_px,
                    region: found.region,
                    direction,
                    normal_deg,
                    report,
                });
            }
            Err(why) => left_out.push(LeftOutDocument { what: place, why: why.to_string() }),
        }
    }
    Ok(taken)
}
