//! The glass cut along the axis, with rays, in millimetres in front of the film: what both drawings are made of.

use rays::{Medium, Row, System, Wavelength};

/// A cut through glass, stop and light.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// Every glass as a closed line: mm in front of the film, height.
    pub glasses: Vec<Vec<[f64; 2]>>,
    /// The iris in use: its place and half its opening.
    pub stop: [f64; 2],
    /// Converters without faults: where each stands as a thin lens, mm in front of the film.
    pub ideals: Vec<f64>,
    /// Rays from the middle and from the edge of the field, from the subject to the film.
    pub rays: Vec<Vec<[f64; 2]>>,
    /// The foremost and the rearmost vertex.
    pub ends: [f64; 2],
    /// The largest half height of glass.
    pub half_height: f64,
}

/// Points on half a curved surface.
const CURVE_POINTS: usize = 10;
/// Glass without a printed clear diameter reaches this far beyond its rays.
const RIM: f64 = 1.12;
/// A surface is drawn no farther than this share of its radius.
const MOST_BENT: f64 = 0.96;
/// Shares of the stop that are tried from the rim inwards until one passes.
const SHARES: usize = 40;
/// Rays from far away begin so many mm before the glass.
const BEFORE_MM: f64 = 40.0;

impl Section {
    /// Of a system whose film is `half_height_mm` high to either side.
    pub fn of(system: &System, half_height_mm: f64) -> Self {
        let rows = system.rows();
        let vertices: Vec<f64> = rows
            .iter()
            .scan(0.0, |at, row| {
                let here = *at;
                *at += row.gap_mm.unwrap_or(0.0);
                Some(here)
            })
            .collect();
        let film = vertices.last().copied().unwrap_or(0.0) + system.film_mm();
        let lines = lines(system, half_height_mm);
        let heights = heights(rows, &lines);
        let turned = |points: Vec<[f64; 2]>| points.into_iter().map(|[z, y]| [film - z, y]).collect::<Vec<_>>();
        let glass = |i: usize| {
            let (front, back) = (&rows[i], rows.get(i + 1)?);
            (front.after != Medium::Air)
                .then(|| turned(outline([front, back], [vertices[i], vertices[i + 1]], [heights[i], heights[i + 1]])))
        };
        let glasses: Vec<_> = (0..rows.len()).filter_map(glass).collect();
        let half_height = glasses.iter().flatten().map(|[_, y]| y.abs()).fold(0.0, f64::max);
        Self {
            stop: [film - vertices[system.stop()], system.semi_diameter_mm()],
            rays: lines.into_iter().map(turned).collect(),
            ends: [film, system.film_mm()],
            ideals: system.ideals().iter().map(|ideal| ideal.before_film_mm).collect(),
            glasses,
            half_height,
        }
    }
}

/// The outermost rays that pass, of the middle and of the edge of the film, and the edge's chief ray.
fn lines(system: &System, half_height_mm: f64) -> Vec<Vec<[f64; 2]>> {
    let shares: Vec<f64> = (0..=2 * SHARES).map(|i| i as f64 / SHARES as f64 - 1.0).collect();
    // The edge of the film that the upper edge of the subject is imaged to.
    let scale = system.first_order(Wavelength::D).scale;
    let edge = system.field_at_film(half_height_mm.copysign(scale), Wavelength::D).ok();
    let mut lines = Vec::new();
    for field in [Some(0.0), edge].into_iter().flatten() {
        let Ok(paths) = system.paths(field, Wavelength::D, &shares, BEFORE_MM) else { continue };
        let passing: Vec<_> = paths.into_iter().flatten().filter(|path| path.passes).collect();
        let chief = passing.iter().find(|path| path.stop == 0.0 && field != 0.0);
        let rims = [passing.first(), passing.last()];
        lines.extend(rims.into_iter().chain([chief]).flatten().map(|path| path.corners.clone()));
    }
    lines
}

/// Half heights of all surfaces: as printed, else a little beyond the rays.
fn heights(rows: &[Row], lines: &[Vec<[f64; 2]>]) -> Vec<f64> {
    let of = |(i, row): (usize, &Row)| {
        let lit = lines.iter().filter_map(|line| line.get(i + 1)).map(|[_, y]| y.abs()).fold(0.0, f64::max);
        let printed = row.semi_aperture_mm.filter(|_| !row.stop);
        let bent = if row.surface.curvature == 0.0 { f64::INFINITY } else { MOST_BENT / row.surface.curvature.abs() };
        printed.unwrap_or(RIM * lit).min(bent)
    };
    rows.iter().enumerate().map(of).collect()
}

fn sag(row: &Row, height: f64) -> f64 {
    row.surface.sag(height.abs()).unwrap_or(0.0)
}

/// A closed line round one glass. Both faces end at one height, unless its edge would then be of no thickness: that height
/// comes down until it has one.
fn outline([front, back]: [&Row; 2], [from, to]: [f64; 2], [one, other]: [f64; 2]) -> Vec<[f64; 2]> {
    let mut height = one.max(other);
    let bent =
        |row: &Row| if row.surface.curvature == 0.0 { f64::INFINITY } else { MOST_BENT / row.surface.curvature.abs() };
    height = height.min(bent(front)).min(bent(back));
    while height > 0.1 && to + sag(back, height) <= from + sag(front, height) {
        height *= 0.97;
    }
    let share = |i: usize| height * (i as f64 / CURVE_POINTS as f64 - 1.0);
    let face = |row: &Row, vertex: f64| {
        (0..=2 * CURVE_POINTS).map(|i| [vertex + sag(row, share(i)), share(i)]).collect::<Vec<_>>()
    };
    let back_down = face(back, to).into_iter().rev();
    face(front, from).into_iter().chain(back_down).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rays::{Draw, SetUp, form};
    use testkit::assert_close;

    fn section(key: &str) -> (System, Section) {
        let lens = form(key).expect("in the library").scaled_to(85.0).expect("a size");
        let set_up = SetUp { draw: Draw::Magnification { ratio: 1.0 }, ..SetUp::alone(lens, 8.0) };
        let system = set_up.system(Wavelength::D).expect("a system");
        let section = Section::of(&system, 28.0);
        (system, section)
    }

    /// US 2,673,491 has six glasses; the section lies as far from the film as the trace has it, and rays run from the subject to
    /// the film.
    #[test]
    fn glass_lies_where_it_was_traced() {
        let (system, section) = section("double-gauss-1954");
        assert_eq!(section.glasses.len(), 6);
        let rearmost = section.glasses.iter().flatten().map(|[mm, _]| *mm).fold(f64::INFINITY, f64::min);
        assert!(rearmost > 0.0 && rearmost <= section.ends[1] + 1e-9, "{rearmost}");
        assert_close!(section.ends[1], system.film_mm(), absolute = 1e-12);
        let length: f64 = system.rows().iter().filter_map(|row| row.gap_mm).sum();
        assert_close!(section.ends[0] - section.ends[1], length, absolute = 1e-9);
        for ray in &section.rays {
            assert_close!(ray[ray.len() - 1][0], 0.0, absolute = 1e-9);
        }
        assert_eq!(section.rays.len(), 5);
        // At life size the edge of the field is as high as that of the film, on the other side.
        let [edge, film] = [section.rays[4][0][1], section.rays[4][section.rays[4].len() - 1][1]];
        assert_close!(film.abs(), 28.0, absolute = 1e-6);
        assert_close!(edge, -film, relative = 0.02);
    }

    #[test]
    fn every_form_is_drawn_with_thick_edges() {
        for form in rays::FORMS {
            let lens = form.scaled_to(85.0).expect("a size");
            let set_up = SetUp { draw: Draw::Magnification { ratio: 0.5 }, ..SetUp::alone(lens, 16.0) };
            let section = Section::of(&set_up.system(Wavelength::D).expect("a system"), 20.0);
            assert!(!section.glasses.is_empty(), "{}", form.key);
            for glass in &section.glasses {
                // Light meets the face on the subject's side first: it lies in front at the rim too.
                let (front, back) = (glass[0], glass[glass.len() - 1]);
                assert!(front[0] > back[0] && front[1] == back[1], "{}: {front:?} {back:?}", form.key);
            }
        }
    }
}
