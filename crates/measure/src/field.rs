//! Which way an edge lies in the image circle: along the radius, across it, or neither.
//!
//! The trade's terms. *Sagittal* (or radial) lines run along the radius from the middle of the picture; what they test is
//! detail across the radius, that is, blur in the tangential direction. *Tangential* (or meridional) lines run across the radius, as
//! the tangent of a circle about the middle; they test blur along the radius. An edge is one such line: an edge along
//! the radius gives the sagittal curve, an edge across it the tangential one (Smith, Modern Optical Engineering, chapter on
//! image evaluation, from memory).

use crate::slanted::EdgeReport;

/// Half of the sector within which an edge counts as sagittal or tangential, degrees: nearer to that than to half-way
/// between the two (common practice, no source).
const SECTOR_DEG: f64 = 22.5;

/// The line that an edge is, seen from the middle of the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FieldLine {
    /// Along the radius: sharpness across the radius.
    Sagittal,
    /// Across the radius: sharpness along the radius.
    Tangential,
    /// Between the two: a mixture of both.
    Oblique,
    /// The middle of the picture lies within half of the edge's length from it: there is no radius to speak of.
    Central,
}

impl FieldLine {
    /// Its name in lower case, as in JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Sagittal => "sagittal",
            Self::Tangential => "tangential",
            Self::Oblique => "oblique",
            Self::Central => "central",
        }
    }
}

impl std::fmt::Display for FieldLine {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

/// How an edge lies against the radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeDirection {
    /// What that is called.
    pub line: FieldLine,
    /// Between the edge and the radius through the region's middle, degrees, 0 (along it) to 90 (across it).
    pub edge_to_radius_deg: f64,
    /// Between the edge's normal, along which it is measured, and the radius, degrees, 0 to 90.
    pub normal_to_radius_deg: f64,
    /// From the middle of the picture to the middle of the region, pixels.
    pub radius_px: f64,
}

/// How a measured edge lies against the radius: the region's middle and that of the picture (or of the image circle, where that
/// lies elsewhere), in pixels of the whole picture.
pub fn edge_direction(report: &EdgeReport, region_centre: (f64, f64), frame_centre: (f64, f64)) -> EdgeDirection {
    let (first, last) = match (report.trace.first(), report.trace.last()) {
        (Some(first), Some(last)) => (*first, *last),
        _ => ((0.0, 0.0), (0.0, 0.0)),
    };
    direction((last.0 - first.0, last.1 - first.1), region_centre, frame_centre)
}

fn direction(edge: (f64, f64), region_centre: (f64, f64), frame_centre: (f64, f64)) -> EdgeDirection {
    let radius = (region_centre.0 - frame_centre.0, region_centre.1 - frame_centre.1);
    let radius_px = radius.0.hypot(radius.1);
    let (along, across) = (edge.0 * radius.0 + edge.1 * radius.1, edge.0 * radius.1 - edge.1 * radius.0);
    let edge_to_radius_deg = across.abs().atan2(along.abs()).to_degrees();
    let line = if radius_px <= edge.0.hypot(edge.1) / 2.0 {
        FieldLine::Central
    } else if edge_to_radius_deg <= SECTOR_DEG {
        FieldLine::Sagittal
    } else if edge_to_radius_deg >= 90.0 - SECTOR_DEG {
        FieldLine::Tangential
    } else {
        FieldLine::Oblique
    };
    EdgeDirection { line, edge_to_radius_deg, normal_to_radius_deg: 90.0 - edge_to_radius_deg, radius_px }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn spokes_are_sagittal_and_circles_tangential() {
        // An edge of 100 pixels at 1000 from the middle, in every direction of the field.
        for step in 0..36 {
            let field = f64::from(step) * 10.0_f64.to_radians();
            let at = (500.0 + 1000.0 * field.cos(), 400.0 + 1000.0 * field.sin());
            for (turn, line) in [
                (3.0, FieldLine::Sagittal),
                (-20.0, FieldLine::Sagittal),
                (45.0, FieldLine::Oblique),
                (88.0, FieldLine::Tangential),
                (-95.0, FieldLine::Tangential),
            ] {
                let way = field + f64::to_radians(turn);
                let found = direction((100.0 * way.cos(), 100.0 * way.sin()), at, (500.0, 400.0));
                assert_eq!(found.line, line, "{step}, {turn}");
                let folded = if turn.abs() > 90.0 { 180.0 - turn.abs() } else { turn.abs() };
                assert_close!(found.edge_to_radius_deg, folded, absolute = 1e-9);
                assert_close!(found.normal_to_radius_deg, 90.0 - folded, absolute = 1e-9);
                assert_close!(found.radius_px, 1000.0, absolute = 1e-9);
            }
        }
    }

    #[test]
    fn in_the_middle_there_is_no_radius() {
        assert_eq!(direction((0.0, 100.0), (530.0, 400.0), (500.0, 400.0)).line, FieldLine::Central);
        assert_eq!(direction((0.0, 100.0), (551.0, 400.0), (500.0, 400.0)).line, FieldLine::Tangential);
        assert_eq!(direction((0.0, 100.0), (500.0, 400.0), (500.0, 400.0)).line, FieldLine::Central);
    }
}
