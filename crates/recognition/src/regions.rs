//! Which pixels belong to a mark.

use planes::Region;
use target::{Mark, Sheet};

use crate::squares::Place;

/// Largest size of an edge's region along the edge and across it, pixels: more make the figure hardly surer, but take long.
const LONGEST_EDGE_PX: f64 = 360.0;
const WIDEST_EDGE_PX: f64 = 220.0;

/// The pixels that lie wholly within a box, cut to the frame; `None` when none do.
pub(crate) fn within(from: Place, to: Place, (width, height): (u32, u32)) -> Option<Region> {
    let low = |v: f64| v.ceil().max(0.0);
    let (x0, y0) = (low(from.0), low(from.1));
    let (x1, y1) = (to.0.floor().min(f64::from(width)), to.1.floor().min(f64::from(height)));
    (x1 > x0 && y1 > y0).then_some(Region {
        x: x0 as u32,
        y: y0 as u32,
        width: (x1 - x0) as u32,
        height: (y1 - y0) as u32,
    })
}

/// Most pixels of regions that are held at a time.
const HELD_PX: u64 = 5_000_000;

/// Groups of regions, by their numbers, whose rows overlap by more than half and which together are not too large to be held.
pub(crate) fn by_rows(regions: &[Region]) -> Vec<Vec<usize>> {
    let mut order: Vec<usize> = (0..regions.len()).collect();
    order.sort_by_key(|i| (regions[*i].y, regions[*i].x));
    let area = |i: usize| u64::from(regions[i].width) * u64::from(regions[i].height);
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for i in order {
        let fits = |group: &&mut Vec<usize>| {
            let first = &regions[group[0]];
            let shared = (first.y + first.height).saturating_sub(regions[i].y);
            2 * shared > regions[i].height && group.iter().map(|j| area(*j)).sum::<u64>() + area(i) <= HELD_PX
        };
        match groups.last_mut().filter(fits) {
            Some(group) => group.push(i),
            None => groups.push(vec![i]),
        }
    }
    groups
}

/// The box about some places, with a margin.
pub(crate) fn around(places: &[Place], margin: f64) -> (Place, Place) {
    let low = |f: fn(&Place) -> f64| places.iter().map(f).fold(f64::MAX, f64::min) - margin;
    let high = |f: fn(&Place) -> f64| places.iter().map(f).fold(f64::MIN, f64::max) + margin;
    ((low(|p| p.0), low(|p| p.1)), (high(|p| p.0), high(|p| p.1)))
}

pub(crate) fn middle(region: Region) -> Place {
    (f64::from(region.x) + f64::from(region.width) / 2.0, f64::from(region.y) + f64::from(region.height) / 2.0)
}

/// Half width and half height of the largest upright box about the middle of an edge that keeps to the edge's own
/// surroundings: no further out than `free` along the normal, no further along the edge than `half`.
///
/// A box of half sides (a, b) reaches a|n_x| + b|n_y| along the normal n and a|t_x| + b|t_y| along the edge; of all boxes that keep
/// within both and through whose ends the edge runs, the one with the largest area is taken.
pub(crate) fn edge_box(normal: Place, free: f64, half: f64) -> Option<(f64, f64)> {
    let (nx, ny) = (normal.0.abs(), normal.1.abs());
    let upright = nx >= ny;
    // `big`: component of the normal across the nearer axis.
    let (big, small) = if upright { (nx, ny) } else { (ny, nx) };
    let mut best: Option<(f64, f64, f64)> = None;
    for i in 1..=200 {
        let along = half * f64::from(i) / 200.0;
        let across = ((free - along * small) / big).min((half - along * big) / small.max(1e-9));
        // The edge leaves the box through its two ends, not through its sides.
        if across <= along * small / big {
            continue;
        }
        let area = along * across;
        if best.is_none_or(|b| area > b.0) {
            best = Some((area, along, across));
        }
    }
    let (_, along, across) = best?;
    let (along, across) = (along.min(LONGEST_EDGE_PX / 2.0), across.min(WIDEST_EDGE_PX / 2.0));
    Some(if upright { (across, along) } else { (along, across) })
}

/// A mark's ground plan: middle, half sides, turn.
#[derive(Debug, Clone, Copy)]
struct Plot {
    centre: [f64; 2],
    half: [f64; 2],
    turn: (f64, f64),
}

impl Plot {
    fn distance(&self, [x, y]: [f64; 2]) -> f64 {
        let (dx, dy) = (x - self.centre[0], y - self.centre[1]);
        let (sin, cos) = self.turn;
        let (u, v) = ((dx * cos + dy * sin).abs() - self.half[0], (dy * cos - dx * sin).abs() - self.half[1]);
        u.max(0.0).hypot(v.max(0.0)) + u.max(v).min(0.0)
    }
}

/// Where a sheet is blank.
#[derive(Debug, Clone)]
pub(crate) struct Blank {
    plots: Vec<Plot>,
    half: [f64; 2],
}

impl Blank {
    pub fn of(sheet: &Sheet) -> Self {
        let level = |centre, size: [f64; 2]| Plot { centre, half: size.map(|s| s / 2.0), turn: (0.0, 1.0) };
        let plot = |mark: &Mark| match mark {
            Mark::Square(s) => {
                Plot { centre: s.centre, half: [s.side_mm / 2.0; 2], turn: s.turn_deg.to_radians().sin_cos() }
            }
            Mark::Code(c) => level(c.centre, [c.side_mm; 2]),
            Mark::Step(s) => level(s.centre, s.size_mm),
            Mark::Trap(t) => level(t.centre, [t.side_mm; 2]),
            // A strip that stands out of the sheet is seen beside its window.
            Mark::Ramp(r) => level(r.centre, [1.4 * r.width_mm, 1.2 * r.length_mm]),
            Mark::Rule(r) => level(r.centre, [1.4 * r.width_mm, 1.2 * r.length_mm]),
            Mark::GreyScale(g) => level(g.centre, g.size_mm),
            Mark::Ruler(r) => {
                let middle = [0, 1].map(|i| (r.first[i] + r.last[i]) / 2.0);
                let length = [0, 1].map(|i| (r.last[i] - r.first[i]).abs());
                let across = r.lengths_mm[2];
                level(middle, length.map(|l| l.max(across) + r.line_mm))
            }
            Mark::Blade(b) => {
                let middle = [0, 1].map(|i| (b.ends[0][i] + b.ends[1][i]) / 2.0);
                let length = (b.ends[1][0] - b.ends[0][0]).hypot(b.ends[1][1] - b.ends[0][1]);
                level(middle, [length.max(2.0 * b.cover_mm); 2])
            }
        };
        Self { plots: sheet.marks.iter().map(plot).collect(), half: sheet.size_mm.map(|s| s / 2.0) }
    }

    /// Distance from a place on the sheet to the nearest mark or to the sheet's border, mm; 0 and below on a mark.
    pub fn room_mm(&self, place: [f64; 2]) -> f64 {
        let border = [0, 1].map(|i| self.half[i] - place[i].abs());
        self.plots.iter().map(|plot| plot.distance(place)).fold(border[0].min(border[1]), f64::min)
    }

    /// Places of a grid of `n` by `n` over the sheet with at least that much room.
    pub fn places(&self, n: usize, room_mm: f64) -> Vec<[f64; 2]> {
        let at = |i: usize, axis: usize| self.half[axis] * (2.0 * (i as f64 + 0.5) / n as f64 - 1.0);
        let all = (0..n * n).map(|i| [at(i % n, 0), at(i / n, 1)]);
        all.filter(|place| self.room_mm(*place) >= room_mm).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use target::{Card, Identity};
    use testkit::assert_close;

    #[test]
    fn the_box_of_an_edge_keeps_to_its_surroundings() {
        for degrees in [5.0, 20.0, 40.0, 45.0, 50.0, 85.0_f64] {
            let (sin, cos) = degrees.to_radians().sin_cos();
            let (a, b) = edge_box((cos, sin), 20.0, 28.0).unwrap();
            assert!(a * cos + b * sin <= 20.0 + 1e-9, "{degrees}");
            assert!(a * sin + b * cos <= 28.0 + 1e-9, "{degrees}");
            // The edge runs out at the ends of the side that it is nearer to.
            if degrees != 45.0 {
                let (along, across, lean) = if degrees < 45.0 { (b, a, sin / cos) } else { (a, b, cos / sin) };
                assert!(along * lean <= across + 1e-9, "{degrees}: {along} {across}");
            }
        }
        // Along the diagonal the box is a square whose corners reach as far as is free: side free/√2.
        let (a, b) = edge_box((0.5f64.sqrt(), 0.5f64.sqrt()), 20.0, 100.0).unwrap();
        assert_close!(a.min(b), 20.0 * 0.5f64.sqrt(), relative = 0.05);
    }

    #[test]
    fn regions_of_the_same_rows_are_read_together() {
        let at = |x: u32, y: u32| Region { x, y, width: 1000, height: 1000 };
        let regions = [at(0, 4000), at(5000, 100), at(0, 0), at(2000, 4100), at(4000, 4600), at(7000, 50)];
        assert_eq!(by_rows(&regions), [vec![2, 5, 1], vec![0, 3], vec![4]]);
        // Five and more of them are not held at once.
        let many: Vec<Region> = (0..7).map(|i| at(1000 * i, 0)).collect();
        assert_eq!(by_rows(&many).iter().map(Vec::len).collect::<Vec<_>>(), [5, 2]);
        assert!(by_rows(&[]).is_empty());
    }

    #[test]
    fn a_blank_place_is_on_no_mark() {
        let card = Card::new([80.0, 60.0], Identity::from_number(1)).unwrap();
        let blank = Blank::of(&card.sheets[0]);
        let square = card.sheets[0].squares().find(|s| s.name == "centre").unwrap();
        assert_close!(blank.room_mm(square.centre), -square.side_mm / 2.0, relative = 1e-9);
        for corner in square.corners() {
            assert_close!(blank.room_mm(corner), 0.0, absolute = 1e-9);
        }
        let places = blank.places(24, 1.0);
        assert!(places.len() > 40, "{}", places.len());
        assert!(blank.room_mm([40.0, 0.0]) <= 0.0);
    }
}
