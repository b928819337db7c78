//! Colour fringing from the frame's edges.

use std::collections::BTreeMap;

use measure::{ChannelFringing, EdgeFringeOptions, Figure, FringeSample, FringingOptions, edge_fringe};

use super::gather::{Around, Taken};
use crate::documents::{ChannelFringingDocument, FringeAt, FringingDocument, LeftOutDocument};

/// Arrows along a side of the map.
const ARROWS: usize = 7;

/// What the edges together say of red and blue against green; nothing for a grey picture or without the pitch.
pub fn fringing(around: &Around<'_>, edges: &[Taken], left_out: &mut Vec<LeftOutDocument>) -> Option<FringingDocument> {
    if edges.iter().all(|edge| edge.report.displacement_px.red.is_none() && edge.report.displacement_px.blue.is_none())
    {
        return None;
    }
    let mut refuse =
        |why: String| left_out.push(LeftOutDocument { what: "colour fringing over the frame".into(), why });
    let Some(pitch_um) = around.sizes.pitch_um else {
        refuse("the scan's pitch is not known, so nothing can be said in micrometres on film".into());
        return None;
    };
    let to_mm = |px: f64| px * pitch_um / 1000.0;
    let (w, h) = (f64::from(around.size.0), f64::from(around.size.1));
    let samples: Vec<FringeSample> = edges.iter().filter_map(|edge| sample(edge, pitch_um, (w, h))).collect();
    let frame_mm = (to_mm(w), to_mm(h));
    let found = match measure::fringing(&samples, &FringingOptions::for_frame(frame_mm.0, frame_mm.1)) {
        Ok(found) => found,
        Err(why) => {
            refuse(why.to_string());
            return None;
        }
    };
    let channels = [("red", &found.red), ("blue", &found.blue)];
    let channels = channels.into_iter().map(|(name, channel)| (name.to_owned(), of_channel(channel, frame_mm)));
    Some(FringingDocument {
        channels: BTreeMap::from_iter(channels),
        zone_um: zone(edges, pitch_um),
        warnings: found.remarks.iter().map(ToString::to_string).collect(),
    })
}

fn sample(edge: &Taken, pitch_um: f64, (w, h): (f64, f64)) -> Option<FringeSample> {
    let shift = &edge.report.displacement_px;
    let figure = |value: Option<f64>, half: Option<f64>| {
        value.zip(half).map(|(value, half)| Figure::new(value * pitch_um, half * pitch_um))
    };
    Some(FringeSample {
        position_mm: ((edge.at_px.0 - w / 2.0) * pitch_um / 1000.0, (edge.at_px.1 - h / 2.0) * pitch_um / 1000.0),
        normal_deg: edge.normal_deg?,
        red_um: figure(shift.red, shift.red_plus_minus),
        blue_um: figure(shift.blue, shift.blue_plus_minus),
    })
}

fn of_channel(channel: &ChannelFringing, frame_mm: (f64, f64)) -> ChannelFringingDocument {
    let field = channel.field.iter().map(|at| FringeAt {
        radius_mm: at.radius_mm,
        radial_um: at.radial_um.into(),
        tangential_um: at.tangential_um.into(),
    });
    let arrow = |arrow: measure::Arrow| [arrow.position_mm.0, arrow.position_mm.1, arrow.x_um.value, arrow.y_um.value];
    ChannelFringingDocument {
        field: field.collect(),
        shift_um: channel.shift_um.map(Into::into),
        residual_um: channel.residual_um,
        arrows: channel.map(frame_mm, ARROWS, ARROWS).into_iter().map(arrow).collect(),
    }
}

/// Middle and largest width of the coloured zone.
fn zone(edges: &[Taken], pitch_um: f64) -> Option<[f64; 2]> {
    let options = EdgeFringeOptions { pitch_um: Some(pitch_um), ..EdgeFringeOptions::default() };
    let zones = edges.iter().filter_map(|edge| edge_fringe(&edge.report, &options).ok());
    let mut zones: Vec<f64> = zones.filter_map(|fringe| fringe.zone_um).map(|zone| zone.value).collect();
    zones.sort_by(f64::total_cmp);
    Some([*zones.get(zones.len() / 2)?, *zones.last()?])
}
