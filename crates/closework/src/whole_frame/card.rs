//! A frame of the printed card: what was recognised, as the document has it.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use measure::{ExposedOptions, Figure, GreyStep};
use recognition::{Options, PatchKind, RecogniseError, Recognised, SheetFound};

use super::gather::{Around, Taken};
use super::settings::Settings;
use super::source::FileFrame;
use crate::documents::{
    AlignmentDocument, CardDocument, ContrastDocument, EvennessDocument, ExposedDocument, FrameDocument, GrainDocument,
    GreyDocument, LeftOutDocument, Measured, PlaceDocument, RampDocument, RulerDocument, SheetDocument,
};

/// What a person's ruler is good to on a line of 100 mm, mm (common practice, no source).
const RULER_PLUS_MINUS_MM: f64 = 0.2;
/// What the entrance pupil's distance is good to when it is typed in, as a share.
const PUPIL_SHARE: f64 = 0.05;
/// Wavelength for what a ramp should show: green light, mm.
const WAVELENGTH_MM: f64 = 0.55e-3;
/// Cells along a side of the map of fall-off.
const MAP_CELLS: usize = 7;
/// Neighbouring pixels share their grain: of so many one counts.
const PIXELS_A_SAMPLE: f64 = 25.0;

/// Looks for the card.
pub fn look(
    frame: &mut FileFrame<'_>,
    settings: &Settings,
    pitch_um: Option<f64>,
) -> Result<Recognised, RecogniseError<imaging::ImagingError>> {
    let options = Options {
        pitch_um,
        entrance_pupil_to_subject_mm: settings.pupil_to_subject_mm.map(|mm| Figure::new(mm, mm * PUPIL_SHARE)),
        check_line_mm: settings.line_mm.map(|mm| Figure::new(mm, RULER_PLUS_MINUS_MM)),
        effective_f_number: settings.at_the_film(),
        trap_cut_out: settings.trap_cut,
        grey_scale: settings.grey_scale.clone(),
        ..Options::default()
    };
    recognition::recognise(frame, &options)
}

/// The card's edges by place. On a card of several sheets the sheet goes before the square's name.
pub fn edges(found: &Recognised) -> Vec<Taken> {
    let middle = (f64::from(found.size_px.0) / 2.0, f64::from(found.size_px.1) / 2.0);
    let taken = found.edges.iter().map(|edge| {
        let place = named(edge.part, edge.square);
        let beside = found.edges.iter().filter(|other| other.part == edge.part && other.square == edge.square);
        let (count, sum) = beside.fold((0.0, (0.0, 0.0)), |(count, (x, y)), other| {
            (count + 1.0, (x + other.place_px.0, y + other.place_px.1))
        });
        let dark_outside = edge.outward_deg;
        // A positive print has white outside its squares; in a negative the brighter side is the square.
        let normal_deg = if found.negative { dark_outside + 180.0 } else { dark_outside };
        Taken {
            place,
            zone: zone(edge.zone).into(),
            at_px: (sum.0 / count, sum.1 / count),
            region: edge.region,
            direction: measure::edge_direction(&edge.report, edge.place_px, middle),
            normal_deg: Some(normal_deg),
            report: edge.report.clone(),
            blade: false,
        }
    });
    taken.chain(found.blades.iter().map(|blade| of_blade(blade, found, middle))).collect()
}

fn of_blade(blade: &recognition::MeasuredEdge, found: &Recognised, middle: (f64, f64)) -> Taken {
    let turned = if found.negative { 180.0 } else { 0.0 };
    Taken {
        place: named(blade.part, &format!("blade {}", blade.square)),
        zone: zone(blade.zone).into(),
        at_px: blade.place_px,
        region: blade.region,
        direction: measure::edge_direction(&blade.report, blade.place_px, middle),
        normal_deg: Some(blade.outward_deg + turned),
        report: blade.report.clone(),
        blade: true,
    }
}

fn named(part: target::Part, square: &str) -> String {
    if part == target::Part::Whole { square.into() } else { format!("{} sheet, {square}", part.name()) }
}

fn zone(zone: target::Zone) -> &'static str {
    match zone {
        target::Zone::Centre => "centre",
        target::Zone::HalfWay => "half-way",
        target::Zone::Side => "side",
        target::Zone::Corner => "corner",
    }
}

/// Everything but the edges.
pub fn fill(document: &mut FrameDocument, found: &Recognised, frame: &FileFrame<'_>, around: &Around<'_>) {
    document.card = Some(CardDocument {
        identity: found.identity.to_string(),
        field_mm: found.field_mm,
        sheets: found.sheets.iter().map(|sheet| of_sheet(sheet, found)).collect(),
    });
    if let Some(m) = found.pose.magnification {
        document.magnification = Some(m.into());
        document.magnification_from = "card".into();
    }
    document.contrast = found.contrast.iter().flat_map(|report| &report.channels).map(of_contrast).collect();
    let contrast_remarks = found.contrast.iter().flat_map(|report| &report.remarks).map(ToString::to_string);
    document.warnings.extend(contrast_remarks);
    document.evenness = evenness(found);
    document.exposure = exposure(found, frame, &mut document.left_out);
    document.grain = found.grain.as_ref().map(of_grain);
    document.rulers = found.rulers.iter().map(of_ruler).collect();
    let depth = |ramp: &recognition::RampFound| {
        let magnification = found.pose.magnification?.value;
        measure::depth_to_half_mm(ramp.subject_lp_mm, magnification, around.settings.at_the_film()?, WAVELENGTH_MM)
    };
    document.ramps = found.ramps.iter().map(|ramp| of_ramp(ramp, depth(ramp))).collect();
    document.alignment = found.alignment.as_ref().map(|alignment| AlignmentDocument {
        otherwise: found.alignment_otherwise.as_ref().map(|other| Box::new(of_alignment(other))),
        ..of_alignment(alignment)
    });
    for softness in &found.softness {
        let name = named(softness.part, softness.square);
        if let Some(place) = document.places.iter_mut().find(|place: &&mut PlaceDocument| place.name == name) {
            // Of two surfaces that fit, the one that could explain more comes first.
            let mut shares = [Some(softness.report.explained), softness.otherwise.map(|report| report.explained)];
            shares.sort_by(|a, b| b.map(|f| f.value).partial_cmp(&a.map(|f| f.value)).unwrap_or(Ordering::Equal));
            [place.explained_by_misalignment, place.explained_otherwise] = shares.map(|share| share.map(Into::into));
        }
    }
    document.left_out.extend(found.left_out.iter().map(|out| LeftOutDocument {
        what: if out.part == target::Part::Whole {
            item(&out.what)
        } else {
            format!("{} sheet: {}", out.part.name(), item(&out.what))
        },
        why: out.why.to_string(),
    }));
    document.warnings.extend(found.remarks.iter().map(ToString::to_string));
}

fn item(item: &recognition::Item) -> String {
    use recognition::Item as I;
    match item {
        I::Code(corner) => format!("{} code", corner.name()),
        I::Sheet => "the sheet".into(),
        I::Square(name) => format!("square {name}"),
        I::Edge(name, side) => format!("square {name}, side {}", side + 1),
        I::Ruler(name) => format!("{name} ruler"),
        I::Step(number) => format!("grey step {number}"),
        I::Trap => "contrast and veiling glare".into(),
        I::Ramp(name) => format!("{name} ramp"),
        I::Blade(name) => format!("blade {name}"),
        I::Rule => "tilted rule".into(),
        I::GreyScale => "grey scale".into(),
        I::Evenness => "evenness".into(),
        I::Grain => "grain".into(),
        I::Fringing => "colour fringing over the frame".into(),
        I::Tilt => "lean of the card".into(),
        I::Alignment => "alignment".into(),
        I::Curvature => "curvature of the sharp surface".into(),
        I::Softness(name) => format!("what misalignment explains, {name}"),
    }
}

fn of_sheet(sheet: &SheetFound, found: &Recognised) -> SheetDocument {
    let tilt = found.pose.tilt.as_ref();
    SheetDocument {
        part: sheet.part.name().into(),
        codes: sheet.codes.iter().map(|corner| corner.name().to_owned()).collect(),
        rotation_deg: found.pose.turn_deg.value,
        mirrored: found.pose.mirrored,
        px_per_mm: found.pose.scale_px_per_mm.mean.into(),
        scatter_px: sheet.geometry.scatter_px,
        corner_distortion_percent: sheet.geometry.corner_distortion_percent.map(Into::into),
        lean_about_upright_deg: tilt.map(|tilt| tilt.about_upright_deg.into()),
        lean_about_level_deg: tilt.map(|tilt| tilt.about_level_deg.into()),
        mapping: Some(sheet.geometry.mapping.into()),
    }
}

fn of_contrast(channel: &measure::ChannelContrast) -> (String, ContrastDocument) {
    let document = ContrastDocument {
        black: channel.black.into(),
        white: channel.white.into(),
        ratio: channel.ratio.into(),
        glare: channel.glare.into(),
    };
    (channel.channel.name().into(), document)
}

fn evenness(found: &Recognised) -> Option<EvennessDocument> {
    let even = found.evenness.as_ref()?;
    let report = &even.report;
    let (w, h) = (f64::from(found.size_px.0), f64::from(found.size_px.1));
    let darkest = report.corners_stops.iter().min_by(|p, q| p.value.total_cmp(&q.value)).copied()?;
    let at = |i: usize, side: f64| (i as f64 + 0.5) / MAP_CELLS as f64 * side;
    let cell = |row: usize, column: usize| report.between((at(column, w), at(row, h)), report.brightest).value;
    let colours = even.shading.iter().map(|s| (s.channel.name().to_owned(), s.corners_stops.map(Into::into)));
    let colours: BTreeMap<String, [Measured; 4]> = colours.collect();
    let largest = colours.values().flatten().map(|corner: &Measured| corner.value.abs()).reduce(f64::max);
    Some(EvennessDocument {
        falloff_stops: Measured::from(darkest).times(-1.0),
        corners_stops: report.corners_stops.map(Into::into),
        slope_stops: Some([report.left_right_stops.into(), report.up_down_stops.into()]),
        map_stops: (0..MAP_CELLS).map(|row| (0..MAP_CELLS).map(|column| cell(row, column)).collect()).collect(),
        colour_stops: largest,
        colours_stops: colours,
        warnings: report.remarks.iter().map(ToString::to_string).collect(),
    })
}

/// Printed greys are not known better than by a fifth, a quarter of a stop (common practice, no source).
const PRINTED_GREY: &str =
    "the greys are printed: what they reflect is not known better than by about a quarter of a stop";

fn exposure(found: &Recognised, frame: &FileFrame<'_>, left_out: &mut Vec<LeftOutDocument>) -> Option<ExposedDocument> {
    let names: &[&str] = if frame.clipped.len() == 3 { &["red", "green", "blue"] } else { &["luminance"] };
    let clipped = names.iter().map(|name| (*name).to_owned()).zip(frame.clipped.iter().copied()).collect();
    let greys: Vec<GreyDocument> = found.patches.iter().filter_map(of_grey).collect();
    let stated = |grey: &GreyDocument| {
        let light = Figure::new(grey.light.value, grey.light.plus_minus);
        Some(GreyStep { reflectance: grey.reflectance?, light })
    };
    let steps: Vec<GreyStep> = greys.iter().filter_map(stated).collect();
    let printed = found.patches.iter().any(|patch| matches!(patch.kind, PatchKind::Step(_)));
    let mut document = ExposedDocument { clipped, offset_stops: None, slope: None, greys, warnings: Vec::new() };
    if steps.is_empty() {
        return Some(document);
    }
    match measure::exposed(&steps, &ExposedOptions::default()) {
        Ok(report) => {
            document.offset_stops = Some(report.offset_stops.into());
            document.slope = report.slope.map(Into::into);
            document.warnings = report.remarks.iter().map(ToString::to_string).collect();
            if printed {
                document.warnings.push(PRINTED_GREY.into());
            }
        }
        Err(why) => left_out.push(LeftOutDocument { what: "exposure by the greys".into(), why: why.to_string() }),
    }
    Some(document)
}

/// A printed step or a field of a stuck-on scale.
fn of_grey(patch: &recognition::Patch) -> Option<GreyDocument> {
    let name = match patch.kind {
        PatchKind::Step(number) => format!("step {number}"),
        PatchKind::Stuck(number) => format!("field {number}"),
        PatchKind::Trap | PatchKind::White => return None,
    };
    let area = f64::from(patch.region.width) * f64::from(patch.region.height);
    let plus_minus = 1.96 * patch.deviation / (area / PIXELS_A_SAMPLE).max(1.0).sqrt();
    let light = Measured { value: patch.luminance, plus_minus };
    Some(GreyDocument { name, reflectance: patch.reflectance, light })
}

fn of_grain(grain: &recognition::Grain) -> GrainDocument {
    let report = &grain.report;
    GrainDocument {
        relative: Measured::from(report.deviation).times(1.0 / report.mean),
        density: report.density_deviation.into(),
        granularity: report.rms_at_48_um().map(Into::into),
        spectrum: report.spectrum.iter().map(|point| [point.cy_px, point.power.value]).collect(),
        warnings: report.remarks.iter().map(ToString::to_string).collect(),
    }
}

fn of_ruler(ruler: &recognition::RulerFound) -> RulerDocument {
    RulerDocument {
        name: ruler.name.into(),
        px_per_mm: Measured { value: ruler.report.px_per_mm, plus_minus: ruler.report.plus_minus },
        by_squares_px_per_mm: Some(ruler.expected_px_per_mm),
        ticks: ruler.report.ticks,
    }
}

fn of_ramp(ramp: &recognition::RampFound, predicted_mm: Option<f64>) -> RampDocument {
    RampDocument {
        name: ramp.name.into(),
        focus_mm: ramp.report.peak_height_mm.into(),
        depth_mm: ramp.report.depth_mm.into(),
        at_lp_mm: Some(ramp.subject_lp_mm),
        predicted_mm,
        curve: ramp.modulation.iter().map(|(height, figure)| [*height, figure.value, figure.plus_minus]).collect(),
        warnings: ramp.report.remarks.iter().map(ToString::to_string).collect(),
    }
}

fn of_alignment(report: &measure::AlignmentReport) -> AlignmentDocument {
    AlignmentDocument {
        centre_mm: report.centre_mm.into(),
        about_upright_deg: report.about_upright_deg.into(),
        about_level_deg: report.about_level_deg.into(),
        curvature_mm: report.curvature_mm.map(Into::into),
        corners_mm: report.corners_mm.map(Into::into),
        otherwise: None,
        warnings: report.remarks.iter().map(ToString::to_string).collect(),
    }
}
