//! Single rays, curves over the field and the map, as numbers.

use super::nm;
use crate::bench::{Cell, FrameMap, PlaceRays};
use rays::{AimError, FanRay, Wavelength, Zone};
use serde::Serialize;

/// Rays of one place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct RaysOnFilm {
    spots: Vec<SpotDocument>,
    fans: Vec<FanDocument>,
}

/// One colour's spot.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct SpotDocument {
    nm: f64,
    /// Across and outwards, from the chief ray of d.
    points_um: Vec<[f64; 2]>,
}

/// One colour's rays along both diameters of the stop.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct FanDocument {
    nm: f64,
    /// From rim to rim; null where a ray is cut.
    tangential: Vec<Option<FanRayDocument>>,
    /// From the middle to the rim.
    sagittal: Vec<Option<FanRayDocument>>,
}

/// One ray.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct FanRayDocument {
    /// In radii of the stop.
    stop: f64,
    /// Across and outwards, from its own colour's chief ray.
    miss_um: [f64; 2],
    /// How much longer its path is, in waves.
    waves: f64,
}

impl From<&FanRay> for FanRayDocument {
    fn from(ray: &FanRay) -> Self {
        Self { stop: ray.stop, miss_um: ray.miss_mm.map(|mm| 1e3 * mm), waves: ray.waves }
    }
}

impl From<&PlaceRays> for RaysOnFilm {
    fn from(rays: &PlaceRays) -> Self {
        let spot = |(colour, points): &(Wavelength, Vec<[f64; 2]>)| SpotDocument {
            nm: nm(*colour),
            points_um: points.iter().map(|point| point.map(|mm| 1e3 * mm)).collect(),
        };
        let along = |rays: &[Option<FanRay>]| rays.iter().map(|ray| ray.as_ref().map(Into::into)).collect();
        let fans = rays.fans.iter().map(|(colour, fan)| FanDocument {
            nm: nm(*colour),
            tangential: along(&fan.tangential),
            sagittal: along(&fan.sagittal),
        });
        Self { spots: rays.spots.iter().map(spot).collect(), fans: fans.collect() }
    }
}

/// One place between the middle and the corner; nothing but where it is where it is dark.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct FieldDocument {
    film_mm: f64,
    #[serde(flatten)]
    figures: Option<FieldFigures>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct FieldFigures {
    /// Contrast at the main frequency.
    sagittal: f64,
    tangential: f64,
    /// From the film, away from the lens.
    sagittal_focus_mm: f64,
    tangential_focus_mm: f64,
    illumination: f64,
    distortion: f64,
    blue_outward_um: f64,
    red_outward_um: f64,
}

impl FieldDocument {
    pub(super) fn of(film_mm: f64, zone: &Result<Zone, AimError>) -> Self {
        let figures = |zone: &Zone| {
            let transfer = zone.transfer.first().copied().unwrap_or_default();
            let colour = |at: usize| zone.colours_mm.get(at).map_or(0.0, |(_, mm)| 1e3 * mm);
            FieldFigures {
                sagittal: transfer.sagittal,
                tangential: transfer.tangential.contrast(),
                sagittal_focus_mm: zone.field_focus.sagittal_mm,
                tangential_focus_mm: zone.field_focus.tangential_mm,
                illumination: zone.illumination,
                distortion: zone.distortion,
                blue_outward_um: colour(0),
                red_outward_um: colour(2),
            }
        };
        Self { film_mm, figures: zone.as_ref().ok().map(figures) }
    }
}

/// A quarter of the frame: the others mirror it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct MapDocument {
    x_mm: Vec<f64>,
    y_mm: Vec<f64>,
    /// Row by row; null where it is dark.
    rows: Vec<Vec<Option<CellDocument>>>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct CellDocument {
    sagittal: f64,
    tangential: f64,
    illumination: f64,
}

impl From<&FrameMap> for MapDocument {
    fn from(map: &FrameMap) -> Self {
        let cell = |cell: &Option<Cell>| {
            let Cell { sagittal, tangential, illumination } = (*cell)?;
            Some(CellDocument { sagittal, tangential, illumination })
        };
        Self {
            x_mm: map.x_mm.clone(),
            y_mm: map.y_mm.clone(),
            rows: map.rows.iter().map(|row| row.iter().map(cell).collect()).collect(),
        }
    }
}
