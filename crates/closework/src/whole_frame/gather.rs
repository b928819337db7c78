//! From single edges to places and zones.

use std::collections::BTreeMap;

use measure::{Channel, Corrected, EdgeDirection, EdgeReport, FrequencyUnit, KnownResponse, Sampling};
use planes::Region;

use super::known::Known;
use super::settings::Settings;
use crate::documents::{
    Circumstances, EdgeDocument, Measured, PlaceDocument, PlacedEdge, SharpnessDocument, Sizes, ZoneDocument,
};

/// A measured edge and where it lies.
pub struct Taken {
    /// Name of its place.
    pub place: String,
    /// Its zone; found from its distance where empty.
    pub zone: String,
    /// Middle of its place in the picture, pixels.
    pub at_px: (f64, f64),
    /// Region that was measured.
    pub region: Region,
    /// Against the radius.
    pub direction: EdgeDirection,
    /// Direction of its normal to the brighter side, degrees from the picture's x axis towards its lower side.
    pub normal_deg: Option<f64>,
    /// The figures.
    pub report: EdgeReport,
    /// It is a blade's and not a printed edge.
    pub blade: bool,
}

/// What all edges of a frame share.
pub struct Around<'a> {
    /// Columns and rows.
    pub size: (u32, u32),
    /// Pitch and magnification.
    pub sizes: Sizes,
    /// Pixels on a millimetre of the subject, where the card tells, with the share by which that may be wrong.
    pub px_per_mm: Option<(f64, f64)>,
    /// How numbers became light.
    pub transfer: &'a str,
    /// Limits and known responses.
    pub settings: &'a Settings,
}

impl Around<'_> {
    fn sampling(&self) -> Sampling {
        let Sizes { pitch_um, magnification } = self.sizes;
        Sampling { pitch_um, magnification, height_px: Some(f64::from(self.size.1)) }
    }

    fn image_height(&self, (x, y): (f64, f64)) -> f64 {
        let (w, h) = (f64::from(self.size.0), f64::from(self.size.1));
        (x - w / 2.0).hypot(y - h / 2.0) / (w.hypot(h) / 2.0)
    }

    /// Where no card names the zone: the same bounds as the card's own places keep.
    fn zone(&self, at: (f64, f64)) -> &'static str {
        match self.image_height(at) {
            near if near < 0.12 => "centre",
            inner if inner < 0.55 => "half-way",
            side if side < 0.78 => "side",
            _ => "corner",
        }
    }

    /// In the middle zone the radius is shorter than the edges themselves and says nothing.
    fn line(&self, edge: &Taken) -> &'static str {
        let zone = if edge.zone.is_empty() { self.zone(edge.at_px) } else { edge.zone.as_str() };
        if zone == "centre" { measure::FieldLine::Central.name() } else { edge.direction.line.name() }
    }

    /// Places from the middle outwards, edges of one place together.
    pub fn places(&self, edges: &[Taken]) -> Vec<PlaceDocument> {
        let mut names: Vec<&str> = Vec::new();
        for edge in edges {
            if !names.contains(&edge.place.as_str()) {
                names.push(&edge.place);
            }
        }
        let mut places: Vec<PlaceDocument> = names.iter().map(|name| self.place(name, edges)).collect();
        places.sort_by(|p, q| p.image_height.total_cmp(&q.image_height));
        places
    }

    fn place(&self, name: &str, all: &[Taken]) -> PlaceDocument {
        let edges: Vec<&Taken> = all.iter().filter(|edge| edge.place == name).collect();
        let first = edges[0];
        let zone = if first.zone.is_empty() { self.zone(first.at_px).into() } else { first.zone.clone() };
        PlaceDocument {
            name: name.into(),
            blade: first.blade,
            zone,
            at_px: [first.at_px.0, first.at_px.1],
            image_height: self.image_height(first.at_px),
            sharpness: self.by_line(&edges),
            edges: edges.iter().map(|edge| self.placed(edge)).collect(),
            explained_by_misalignment: None,
            explained_otherwise: None,
        }
    }

    fn placed(&self, taken: &Taken) -> PlacedEdge {
        let Region { x, y, width, height } = taken.region;
        let around =
            Circumstances { corner: (x, y), sizes: self.sizes, transfer: self.transfer.into(), about_file: Vec::new() };
        let edge = EdgeDocument::of(&taken.report, around);
        PlacedEdge { line: self.line(taken).into(), region_px: [x, y, width, height], edge }
    }

    /// The zones that hold edges, from the middle outwards. Blades stand by themselves: what is softer in print would
    /// drag them down.
    pub fn zones(&self, edges: &[Taken], places: &[PlaceDocument]) -> Vec<ZoneDocument> {
        let zone = |zone: &&str| {
            let names: Vec<&str> =
                places.iter().filter(|p| p.zone == *zone && !p.blade).map(|p| p.name.as_str()).collect();
            let within: Vec<&Taken> = edges.iter().filter(|edge| names.contains(&edge.place.as_str())).collect();
            let sharpness = self.by_line(&within);
            (!names.is_empty()).then(|| ZoneDocument { zone: (*zone).into(), places: names.len(), sharpness })
        };
        ["centre", "half-way", "side", "corner"].iter().filter_map(zone).collect()
    }

    fn by_line(&self, edges: &[&Taken]) -> BTreeMap<String, SharpnessDocument> {
        let mut lines: BTreeMap<String, Vec<&Taken>> = BTreeMap::new();
        for edge in edges {
            lines.entry(self.line(edge).into()).or_default().push(edge);
        }
        lines.into_iter().filter_map(|(line, edges)| Some((line, self.together(&edges)?))).collect()
    }

    /// Edges that say the same thing, as one.
    fn together(&self, edges: &[&Taken]) -> Option<SharpnessDocument> {
        let reports: Vec<EdgeReport> = edges.iter().map(|edge| edge.report.clone()).collect();
        let channel = [Channel::Luminance, Channel::Green]
            .into_iter()
            .find(|channel| reports.iter().all(|report| report.channel(*channel).is_some()))?;
        let corrected = self.corrected(&reports, channel);
        let (mtf50, curve, warnings) = match measure::pool_channel(&reports, channel) {
            Ok(pooled) => {
                let point = |p: &measure::PooledPoint| {
                    [p.frequency_cy_px, p.response.weighted.value, p.response.weighted.plus_minus]
                };
                let mtf50 = pooled.mtf50_cy_px.map(|figure| Measured::from(figure.weighted));
                let warnings = pooled.remarks.iter().map(ToString::to_string).collect();
                (mtf50, pooled.curve.iter().map(point).collect::<Vec<_>>(), warnings)
            }
            Err(_) => {
                let one = reports.first()?.channel(channel)?;
                let mtf50 = one.mtf50_cy_px.zip(one.mtf50_plus_minus);
                let mtf50 = mtf50.map(|(value, plus_minus)| Measured { value, plus_minus });
                let warnings = reports[0].remarks.iter().map(ToString::to_string).collect();
                (mtf50, one.sfr.iter().map(point_of).collect(), warnings)
            }
        };
        let mtf50 = mtf50.or_else(|| alone(&reports, channel));
        let sampling = self.sampling();
        let to = |unit| mtf50.zip(sampling.per_cy_px(unit).ok()).map(|(figure, factor)| figure.times(factor));
        Some(SharpnessDocument {
            edges: reports.len(),
            mtf50_cy_px: mtf50,
            mtf50_lp_mm: to(FrequencyUnit::LinePairsPerMmOnFilm),
            mtf50_subject_lp_mm: self.on_subject(mtf50).or(to(FrequencyUnit::LinePairsPerMmOnSubject)),
            mtf50_lw_ph: to(FrequencyUnit::LineWidthsPerHeight),
            mean_contrast_to_limit: self.mean_contrast(&reports, channel),
            corrected_mtf50_lp_mm: corrected.as_ref().and_then(|c| on_film(c.mtf50_cy_px?.into(), self.sizes)),
            corrected_curve: corrected.as_ref().map(|c| c.curve.iter().map(point_of).collect()).unwrap_or_default(),
            corrected_to: corrected.map(|c| c.end.to_string()).unwrap_or_default(),
            curve,
            warnings,
        })
    }

    /// By the card's own scale, whose doubt goes into the figure's.
    fn on_subject(&self, mtf50: Option<Measured>) -> Option<Measured> {
        let (px_per_mm, share) = self.px_per_mm?;
        let found = mtf50?.times(px_per_mm);
        Some(Measured { value: found.value, plus_minus: found.plus_minus.hypot(found.value * share) })
    }

    /// The mean response up to the print's limit; the mean over the edges, with the widest of their intervals.
    fn mean_contrast(&self, reports: &[EdgeReport], channel: Channel) -> Option<Measured> {
        let limit = self.settings.print_limit_lp_mm? * self.sizes.pitch_um? / 1000.0;
        let areas = reports.iter().map(|report| measure::area_under(report.channel(channel)?, limit).ok());
        let areas: Vec<measure::Figure> = areas.map(|area| Some(area?.mean_response)).collect::<Option<_>>()?;
        let mean = areas.iter().map(|area| area.value).sum::<f64>() / areas.len() as f64;
        let widest = areas.iter().map(|area| area.plus_minus).fold(0.0, f64::max);
        Some(Measured { value: mean, plus_minus: widest })
    }

    /// Scanner and film divided out of the surest of the edges.
    fn corrected(&self, reports: &[EdgeReport], channel: Channel) -> Option<Corrected> {
        let pitch_um = self.sizes.pitch_um?;
        let half = |report: &&EdgeReport| report.channel(channel).and_then(|c| c.mtf50_plus_minus).unwrap_or(f64::MAX);
        let report = reports.iter().min_by(|p, q| half(p).total_cmp(&half(q)))?;
        let scanner = Known::fitting(&self.settings.scanner, crate::documents::direction(report.direction));
        let known = scanner.into_iter().chain(&self.settings.film).map(|known| known.at_pitch(pitch_um));
        let known: Vec<KnownResponse> = known.collect::<Result<_, _>>().ok().filter(|all: &Vec<_>| !all.is_empty())?;
        measure::corrected(report.channel(channel)?, &known).ok()
    }
}

fn point_of(p: &measure::SfrPoint) -> [f64; 3] {
    [p.frequency_cy_px, p.response, p.plus_minus]
}

fn on_film(figure: Measured, sizes: Sizes) -> Option<Measured> {
    Some(figure.times(sizes.on_film(1.0)?))
}

/// Where only one of several edges has the figure, it stands for all.
fn alone(reports: &[EdgeReport], channel: Channel) -> Option<Measured> {
    let known = reports.iter().filter_map(|report| {
        let channel = report.channel(channel)?;
        channel.mtf50_cy_px.zip(channel.mtf50_plus_minus)
    });
    let (value, plus_minus) = known.min_by(|p, q| p.1.total_cmp(&q.1))?;
    Some(Measured { value, plus_minus })
}
