//! What one channel's curve says in figures, each with its interval.

use crate::algebra::Figure;
use crate::slanted::{ChannelReport, SfrPoint, curve};

/// The figures of one channel. Frequencies in cycles per pixel along the edge's normal; [`crate::Sampling`] converts them.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeFigures {
    /// Where the response falls to 50 %; `None` when it does not, or noise hides it.
    pub mtf50_cy_px: Option<Figure>,
    /// Where the response falls to 10 %; `None` when it does not, or noise hides it.
    pub mtf10_cy_px: Option<Figure>,
    /// From 10 % to 90 % of the step, pixels.
    pub rise_10_90_px: Figure,
    /// Area under the curve from frequency 0 to the limit asked for.
    pub area: Area,
    /// The response at each frequency asked for.
    pub responses: Vec<ResponseAt>,
    /// Up to this frequency the curve stands above its noise.
    pub above_noise_to_cy_px: f64,
}

/// Area under a response curve up to a limit, as that of what a print can show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Upper end, cycles per pixel.
    pub limit_cy_px: f64,
    /// Integral of the response over frequency, cycles per pixel.
    pub area_cy_px: Figure,
    /// The mean response up to the limit, 0 to 1: the area over the limit.
    pub mean_response: Figure,
    /// False when part of the curve up to the limit is not told from noise.
    pub above_noise: bool,
}

/// The response at one frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ResponseAt {
    /// Cycles per pixel.
    pub cy_px: f64,
    /// The response with its interval.
    pub response: Figure,
    /// The noise floor there.
    pub noise: f64,
    /// False when it does not stand above its noise.
    pub above_noise: bool,
}

/// Why a figure cannot be given.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FigureError {
    /// A frequency beyond the curve, or none at all.
    #[error("{asked_cy_px} cycles per pixel lies outside the curve, which runs from 0 to {end_cy_px} cycles per pixel")]
    OutsideCurve {
        /// As asked for.
        asked_cy_px: f64,
        /// Where the curve ends.
        end_cy_px: f64,
    },
}

/// All figures of a channel: the area under the curve up to `limit_cy_px` and the response at each of `at_cy_px`.
pub fn figures(channel: &ChannelReport, limit_cy_px: f64, at_cy_px: &[f64]) -> Result<EdgeFigures, FigureError> {
    let responses: Result<_, _> = at_cy_px.iter().map(|&cy_px| response(channel, cy_px)).collect();
    Ok(EdgeFigures {
        mtf50_cy_px: figure(channel.mtf50_cy_px, channel.mtf50_plus_minus),
        mtf10_cy_px: figure(channel.mtf10_cy_px, channel.mtf10_plus_minus),
        rise_10_90_px: Figure::new(channel.rise_10_90_px, channel.rise_10_90_plus_minus_px),
        area: area_under(channel, limit_cy_px)?,
        responses: responses?,
        above_noise_to_cy_px: channel.above_noise_to_cy_px,
    })
}

pub(crate) fn figure(value: Option<f64>, plus_minus: Option<f64>) -> Option<Figure> {
    value.zip(plus_minus).map(|(value, half)| Figure::new(value, half))
}

fn outside(channel: &ChannelReport, asked_cy_px: f64) -> FigureError {
    FigureError::OutsideCurve { asked_cy_px, end_cy_px: channel.sfr.last().map_or(0.0, |p| p.frequency_cy_px) }
}

/// The area under a channel's curve from frequency 0 to a limit above 0, cycles per pixel.
///
/// The interval is that of a curve that errs one way all along: never too small, up to about twice too large.
pub fn area_under(channel: &ChannelReport, limit_cy_px: f64) -> Result<Area, FigureError> {
    let area = if limit_cy_px > 0.0 { curve::area(&channel.sfr, limit_cy_px) } else { None };
    let area_cy_px = area.ok_or_else(|| outside(channel, limit_cy_px))?;
    let above_noise = limit_cy_px <= channel.above_noise_to_cy_px;
    Ok(Area { limit_cy_px, area_cy_px, mean_response: area_cy_px.times(1.0 / limit_cy_px), above_noise })
}

fn response(channel: &ChannelReport, cy_px: f64) -> Result<ResponseAt, FigureError> {
    let response = curve::at(&channel.sfr, cy_px).ok_or_else(|| outside(channel, cy_px))?;
    let after = channel.sfr.partition_point(|p| p.frequency_cy_px < cy_px);
    let near = |p: &SfrPoint| p.noise;
    // The floor changes slowly: the larger of the two neighbours.
    let floor = |i: usize| channel.sfr.get(i).map_or(0.0, near);
    let noise = floor(after).max(floor(after.saturating_sub(1)));
    let point = SfrPoint { frequency_cy_px: cy_px, response: response.value, plus_minus: response.plus_minus, noise };
    Ok(ResponseAt { cy_px, response, noise, above_noise: point.above_noise() })
}
