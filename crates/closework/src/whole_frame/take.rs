//! One frame from its file to its document.

use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::path::Path;

use imaging::{Fault, ImagingError, Scan, ToneChoice};
use measure::{EdgeOptions, FindOptions};
use planes::Region;
use recognition::{Frame, RecogniseError};

use super::card;
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
    /// The card was asked for, and is not there or cannot be used.
    #[error("{0}")]
    NoCard(String),
    /// The negative could not be turned.
    #[error("{0}")]
    Negative(#[from] super::negative::TurnError),
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
    let mut frame = FileFrame::new(scan, tone, progress)?;
    if let Some(negative) = &settings.negative {
        frame.turned(negative)?;
    }
    let mut left_out = Vec::new();
    let found = match card::look(&mut frame, settings, pitch_um) {
        Ok(found) => Some(found),
        Err(RecogniseError::Frame(error)) => return Err(error.into()),
        Err(why) if settings.card_needed => return Err(TakeError::NoCard(why.to_string())),
        // A card that is there and cannot be used is worth a word; a picture without one is not.
        Err(RecogniseError::NoCode | RecogniseError::TooSmall { .. }) => None,
        Err(why) => {
            left_out.push(LeftOutDocument { what: "the target card".into(), why: why.to_string() });
            None
        }
    };
    let edges = match &found {
        Some(found) => card::edges(found),
        None => by_edges(&mut frame, &mut left_out)?,
    };
    if edges.is_empty() && found.is_none() {
        return Err(TakeError::Nothing);
    }
    let about = frame.about.clone();
    let transfer = about.as_ref().map_or("", |about| about.transfer.as_str());
    let of_card = found.as_ref().and_then(|found| found.pose.magnification).map(|m| m.value);
    let sizes = Sizes { pitch_um, magnification: of_card.or(settings.magnification) };
    let scale = found.as_ref().map(|found| found.pose.scale_px_per_mm.mean);
    let px_per_mm = scale.map(|scale| (scale.value, scale.plus_minus / scale.value));
    let around = Around { size, sizes, px_per_mm, transfer, settings };
    let places = around.places(&edges);
    let zones = around.zones(&edges, &places);
    let mut document = FrameDocument {
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
        contrast: BTreeMap::new(),
        evenness: None,
        exposure: None,
        grain: None,
        rulers: Vec::new(),
        ramps: Vec::new(),
        alignment: None,
        left_out,
        warnings: about.iter().flat_map(|about| about.remarks.clone()).collect(),
        settings: settings.clone(),
        made_by: MADE_BY.into(),
    };
    if let Some(found) = &found {
        card::fill(&mut document, found, &frame, &around);
    }
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
                    blade: false,
                });
            }
            Err(why) => left_out.push(LeftOutDocument { what: place, why: why.to_string() }),
        }
    }
    Ok(taken)
}
