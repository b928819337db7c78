//! The four edges of every square, and edges together.

use measure::{EdgeReport, FieldLine, Figure, Mapping, edge, edge_direction, pool};
use planes::{Channels, Linear, Picture, Plane, Region};
use target::{Part, Square, Zone};

use crate::error::{Item, LeftOut, Why};
use crate::recognised::{Fineness, MeasuredEdge, Options, PrintLimit, Together};
use crate::regions::{edge_box, middle, within};
use crate::squares::{Place, mean};

/// Share of the white about a square, and of a side, that an edge's region reaches.
const FREE_SHARE: f64 = 0.94;
const ALONG_SHARE: f64 = 0.86;
/// Found sharpness over the print's own from which on the print may be what limits it. A lens that is as good as the print gives 0.7.
const NEAR_PRINT: f64 = 0.7;

/// An edge that was measured before it is known where the card's middle lies.
pub(crate) struct Bare {
    pub side: usize,
    pub region: Region,
    pub outward: Place,
    pub report: EdgeReport,
}

/// Measures a square's four edges in its surroundings, which begin at `origin`.
pub(crate) fn of_square(
    picture: &Picture<Linear>,
    origin: (u32, u32),
    square: &Square,
    corners: [Place; 4],
    options: &Options,
) -> Vec<Result<Bare, (usize, Place, Why)>> {
    let centre = mean(&corners);
    let side = |side: usize| {
        let (a, b) = (corners[side], corners[(side + 1) % 4]);
        let at = ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0);
        let length = (b.0 - a.0).hypot(b.1 - a.1);
        let across = (-(b.1 - a.1) / length, (b.0 - a.0) / length);
        let out = (at.0 - centre.0) * across.0 + (at.1 - centre.1) * across.1;
        let outward = if out > 0.0 { across } else { (-across.0, -across.1) };
        // Pixels along the normal of the white that the layout keeps free: the other side shows how long a side is across.
        let depth = 2.0 * out.abs();
        let free = FREE_SHARE * depth * square.free_mm / square.side_mm;
        let size = (picture.width() as u32, picture.height() as u32);
        let local = (at.0 - f64::from(origin.0), at.1 - f64::from(origin.1));
        let cut = edge_box(outward, free, ALONG_SHARE * length / 2.0).and_then(|(a, b)| {
            let whole = local.0 - a >= 0.0
                && local.1 - b >= 0.0
                && local.0 + a <= f64::from(size.0)
                && local.1 + b <= f64::from(size.1);
            whole.then(|| within((local.0 - a, local.1 - b), (local.0 + a, local.1 + b), size)).flatten()
        });
        let Some(cut) = cut else { return Err((side, at, Why::OutsideFrame)) };
        let region = Region { x: cut.x + origin.0, y: cut.y + origin.1, ..cut };
        match edge(&piece(picture, cut), &options.edge) {
            Ok(report) => Ok(Bare { side, region, outward, report }),
            Err(error) => Err((side, at, Why::Edge(error))),
        }
    };
    (0..4).map(side).collect()
}

/// A piece of a picture in memory.
pub(crate) fn piece(picture: &Picture<Linear>, region: Region) -> Picture<Linear> {
    let cut = |plane: &Plane<Linear>| {
        Plane::from_fn(region.width as usize, region.height as usize, |c, r| {
            plane.at(region.x as usize + c, region.y as usize + r)
        })
        .expect("a region is never empty")
    };
    match picture.channels() {
        Channels::Grey(plane) => Picture::grey(cut(plane)),
        Channels::Rgb { planes, luma } => {
            Picture::rgb([0, 1, 2].map(|i| cut(&planes[i])), *luma).expect("planes of one size stay of one size")
        }
    }
}

/// The frame's zone by the same limits as the card's own (`target::Square::zone`).
pub(crate) fn zone(radius_share: f64) -> Zone {
    match radius_share {
        near if near < 0.12 => Zone::Centre,
        inner if inner < 0.55 => Zone::HalfWay,
        side if side < 0.78 => Zone::Side,
        _ => Zone::Corner,
    }
}

/// What units a frequency at a place has.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Units {
    pub size: (u32, u32),
    pub pitch_um: Option<f64>,
    /// True lengths over printed ones.
    pub printed: Figure,
}

impl Units {
    pub fn middle(&self) -> Place {
        (f64::from(self.size.0) / 2.0, f64::from(self.size.1) / 2.0)
    }

    pub fn corner_px(&self) -> f64 {
        self.middle().0.hypot(self.middle().1)
    }

    pub fn radius_share(&self, place: Place) -> f64 {
        (place.0 - self.middle().0).hypot(place.1 - self.middle().1) / self.corner_px()
    }

    /// A frequency in all units; `px_per_mm` in printed millimetres along the edge's normal.
    pub fn fineness(&self, cy_px: Figure, px_per_mm: f64) -> Fineness {
        let value = cy_px.value * px_per_mm / self.printed.value;
        let relative = (cy_px.plus_minus / cy_px.value).hypot(self.printed.plus_minus / self.printed.value);
        Fineness {
            cy_px,
            film_lp_mm: self.pitch_um.map(|pitch| cy_px.times(1000.0 / pitch)),
            subject_lp_mm: Figure::new(value, value * relative),
        }
    }
}

/// Pixels per printed millimetre along a direction of the picture, at a place of the sheet.
pub(crate) fn scale_along(mapping: &Mapping, at: [f64; 2], direction: Place) -> Option<f64> {
    let [[a, b], [c, d]] = mapping.jacobian((at[0], at[1]))?;
    // A grating whose normal in the picture is n has the card frequency Jᵗ n: its length is pixels per mm.
    Some((a * direction.0 + c * direction.1).hypot(b * direction.0 + d * direction.1))
}

/// An edge with its place on the field; `at` is what it belongs to: its name and its middle on the sheet.
pub(crate) fn placed(
    bare: Bare,
    part: Part,
    at: (&'static str, [f64; 2]),
    mapping: &Mapping,
    units: &Units,
) -> MeasuredEdge {
    let place_px = middle(bare.region);
    let radius_share = units.radius_share(place_px);
    let direction = edge_direction(&bare.report, place_px, units.middle());
    let guide = bare.report.channel(measure::Channel::Luminance);
    let mtf50 = guide.and_then(|guide| {
        let cy_px = Figure::new(guide.mtf50_cy_px?, guide.mtf50_plus_minus?);
        Some(units.fineness(cy_px, scale_along(mapping, at.1, bare.outward)?))
    });
    let provable_lp_mm = target::printed_half_contrast_lp_mm();
    let print_limit = mtf50
        .map(|m| PrintLimit { found_lp_mm: m.subject_lp_mm.value, provable_lp_mm })
        .filter(|limit| limit.found_lp_mm >= NEAR_PRINT * limit.provable_lp_mm);
    MeasuredEdge {
        part,
        square: at.0,
        side: bare.side,
        zone: zone(radius_share),
        line: direction.line,
        radius_share,
        region: bare.region,
        place_px,
        outward_deg: bare.outward.1.atan2(bare.outward.0).to_degrees(),
        report: bare.report,
        mtf50,
        print_limit,
    }
}

/// Edges of one kind together; groups of a single edge are left out.
pub(crate) fn together<K: PartialEq + Copy>(
    edges: &[MeasuredEdge],
    units: &Units,
    key: impl Fn(&MeasuredEdge) -> K,
    square: impl Fn(&MeasuredEdge) -> Option<(Part, &'static str)>,
) -> Vec<Together> {
    let mut groups: Vec<(K, Vec<usize>)> = Vec::new();
    for (i, edge) in edges.iter().enumerate() {
        let key = key(edge);
        match groups.iter_mut().find(|(k, _)| *k == key) {
            Some((_, members)) => members.push(i),
            None => groups.push((key, vec![i])),
        }
    }
    let of = |members: Vec<usize>| {
        let reports: Vec<EdgeReport> = members.iter().map(|i| edges[*i].report.clone()).collect();
        let pooled = pool(&reports).ok()?;
        let first = &edges[members[0]];
        let px_per_mm: Vec<f64> = members
            .iter()
            .filter_map(|i| edges[*i].mtf50.map(|m| m.subject_lp_mm.value / m.cy_px.value * units.printed.value))
            .collect();
        let mean = px_per_mm.iter().sum::<f64>() / px_per_mm.len().max(1) as f64;
        let mtf50 = pooled.mtf50_cy_px.map(|figure| units.fineness(figure.weighted, mean));
        Some(Together { square: square(first), zone: first.zone, line: first.line, edges: members, pooled, mtf50 })
    };
    groups.into_iter().filter_map(|(_, members)| of(members)).collect()
}

/// By square, then by zone; each with sagittal, tangential and other edges apart.
pub(crate) fn pools(edges: &[MeasuredEdge], units: &Units) -> (Vec<Together>, Vec<Together>) {
    let by_square = together(edges, units, |e| (e.part, e.square, e.line), |e| Some((e.part, e.square)));
    // In the middle there is no radius, and what little there is says nothing.
    let line = |e: &MeasuredEdge| if e.zone == Zone::Centre { FieldLine::Central } else { e.line };
    let by_zone = together(edges, units, |e| (e.zone, line(e)), |_| None);
    (by_square, by_zone)
}

/// The remark of an edge that was not taken.
pub(crate) fn left(part: Part, square: &Square, (side, place, why): (usize, Place, Why)) -> LeftOut {
    LeftOut { part, what: Item::Edge(square.name, side), place_px: Some(place), why }
}
