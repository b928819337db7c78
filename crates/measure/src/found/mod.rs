//! Edges worth measuring, found in any picture.
//!
//! Straight ridges of the gradient are walked ([`lines`]), the even ground beside each is looked at and the best rectangle
//! laid on it ([`ground`]), and what is offered has been tried: the same checks that [`crate::edge`] makes have passed on it.

mod ground;
mod lines;

use ground::Site;
use lines::{Cells, Piece};
use planes::{Channels, Linear, LumaWeights, Picture, Plane, Region};

use crate::slanted::{Channel, Direction, EdgeRemark, EdgeReport, checks::LEAST_ANGLE_DEG, quick};

/// Pictures of more pixels than this are shrunk first, so that the time stays bounded.
const MOST_PIXELS: usize = 3_000_000;
/// Margin that an offered edge keeps from 0 and from 45 degrees, beyond what measuring needs: the picture looked at may be
/// smaller than the one measured.
const LEAN_DEG: (f64, f64) = (LEAST_ANGLE_DEG + 0.3, 43.5);
/// Times that a pixel's phases must be passed along the edge; measuring needs 1.
const LEAST_CYCLES: f64 = 1.3;
/// Least side of a region of the picture looked at: what measuring needs, and a little more.
const LEAST_SIDE: usize = 18;
/// Coarser looks at the picture, each half as fine: a blurred edge shows its ridge only there.
const LOOKS: usize = 3;
/// Candidates whose ground is looked at, and trials, for each edge wanted.
const CANDIDATES: usize = 400;
const TRIALS_EACH: usize = 4;
/// Regions tried on one piece of edge before it is given up.
const TRIES: usize = 3;
/// Step over noise at least: an edge on much grain is measured, but not offered.
const LEAST_RATIO: f64 = 8.0;

/// A slight bend is measured well (and said); more, and the piece is no straight edge.
const MOST_BEND_PX: f64 = 1.0;

/// What is looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FindOptions {
    /// Pixels of the full picture per pixel of the picture that is looked at, 1 or more: regions and lengths are given in
    /// pixels of the full one.
    pub scale: f64,
    /// How many edges at most.
    pub most: usize,
    /// Least length of an edge, pixels of the full picture.
    pub least_length_px: f64,
    /// Least difference of the two sides, linear light.
    pub least_step: f64,
    /// Least Michelson contrast of the two sides.
    pub least_contrast: f64,
}

impl Default for FindOptions {
    /// A dozen edges of 40 pixels or more whose sides differ by a twentieth of full scale and by 3 : 2.
    fn default() -> Self {
        Self { scale: 1.0, most: 12, least_length_px: 40.0, least_step: 0.05, least_contrast: 0.2 }
    }
}

/// An edge worth measuring.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundEdge {
    /// Where to measure, in whole pixels of the full picture.
    pub region: Region,
    /// Angle against the nearer pixel axis, degrees.
    pub angle_deg: f64,
    /// The axis that it runs along.
    pub direction: Direction,
    /// Length inside the region, pixels of the full picture.
    pub length_px: f64,
    /// Michelson contrast of the two sides.
    pub contrast: f64,
    /// Difference of the two sides, linear light.
    pub step: f64,
    /// From 0 to 1: the product of the notes' factors.
    pub quality: f64,
    /// What lowers the quality, the worst first; empty for an edge without fault.
    pub notes: Vec<QualityNote>,
}

/// One reason for an edge's rank.
#[derive(Debug, Clone, PartialEq)]
pub struct QualityNote {
    /// What the quality is multiplied by, 0 to 1.
    pub factor: f64,
    /// Why.
    pub why: QualityReason,
}

/// What lowers an edge's quality.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum QualityReason {
    /// It is short.
    Short {
        /// Pixels of the full picture.
        length_px: f64,
    },
    /// It leans little from the pixel axis.
    LeansLittle {
        /// Degrees.
        angle_deg: f64,
    },
    /// It leans far from either axis.
    LeansFar {
        /// Degrees.
        angle_deg: f64,
    },
    /// The two sides differ little.
    LittleContrast {
        /// Michelson contrast.
        contrast: f64,
    },
    /// Much noise or grain.
    Noise {
        /// Step over the noise of one pixel.
        ratio: f64,
    },
    /// Little even ground beside it.
    LittleRoom {
        /// Pixels of the full picture.
        room_px: f64,
    },
    /// What measuring remarks on it.
    Remark(EdgeRemark),
}

impl std::fmt::Display for QualityNote {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.why {
            QualityReason::Short { length_px } => write!(f, "it is short: {length_px:.0} pixels"),
            QualityReason::LeansLittle { angle_deg } => write!(f, "it leans by {angle_deg:.1} degrees only"),
            QualityReason::LeansFar { angle_deg } => {
                write!(f, "it leans by {angle_deg:.1} degrees, far from the pixels' rows and columns")
            }
            QualityReason::LittleContrast { contrast } => write!(f, "its contrast is {contrast:.2}"),
            QualityReason::Noise { ratio } => write!(f, "its step is {ratio:.0} times the noise"),
            QualityReason::LittleRoom { room_px } => {
                write!(f, "{room_px:.0} pixels of even ground lie beside it")
            }
            QualityReason::Remark(remark) => remark.fmt(f),
        }
    }
}

/// Edges worth measuring in a picture, the best first; none of their regions overlap.
///
/// Offered is what is straight, long enough, of enough contrast, neither upright nor at 45 degrees, with even ground on both
/// sides, and what has passed the checks of [`crate::edge`] in the picture as given. With a `scale` above 1 the picture is a reduced
/// one, whose full version is to be measured: finer noise, dust and sharpness may show there that the reduced one hides.
///
/// A picture of more than 3 million pixels is itself reduced first. Options out of range are brought into it.
pub fn find_edges(picture: &Picture<Linear>, options: &FindOptions) -> Vec<FoundEdge> {
    let scale = if options.scale.is_finite() { options.scale.max(1.0) } else { 1.0 };
    let times = ((picture.width() * picture.height()) as f64 / MOST_PIXELS as f64).sqrt().ceil().max(1.0) as usize;
    if times > 1 {
        let Some(smaller) = reduced(picture, times) else { return Vec::new() };
        return search(&smaller, &FindOptions { scale: scale * times as f64, ..*options });
    }
    search(picture, &FindOptions { scale, ..*options })
}

fn search(picture: &Picture<Linear>, options: &FindOptions) -> Vec<FoundEdge> {
    let luminance = picture.luminance();
    let cells = Cells::of(&luminance);
    if cells.values.iter().any(|v| !v.is_finite()) {
        return Vec::new();
    }
    let mut candidates = candidates(&cells, options);
    candidates.sort_by(|a, b| promise(&b.1[0]).total_cmp(&promise(&a.1[0])));
    let mut taken: Vec<(Site, FoundEdge)> = Vec::new();
    let mut trials = TRIALS_EACH * options.most;
    for (piece, sites) in candidates {
        if taken.len() >= 2 * options.most || trials == 0 {
            break;
        }
        let mut free = sites;
        free.retain(|s| taken.iter().all(|(other, _)| !s.overlaps(other)));
        for site in spread(&free) {
            trials = trials.saturating_sub(1);
            if let Some(found) = tried(picture, &piece, site, options) {
                taken.push((*site, found));
                break;
            }
        }
    }
    let mut found: Vec<FoundEdge> = taken.into_iter().map(|(_, found)| found).collect();
    found.sort_by(|a, b| b.quality.total_cmp(&a.quality));
    found.truncate(options.most);
    found
}

/// Pieces with the regions that can be laid on them, the best region first.
fn candidates(cells: &Cells, options: &FindOptions) -> Vec<(Piece, Vec<Site>)> {
    let least_length = (options.least_length_px / options.scale).max(LEAST_SIDE as f64);
    // A step over ten pixels is blurred, over twenty hardly worth a figure: what is fainter still is not walked.
    let least_gradient = options.least_step.max(0.01) / 20.0;
    let mut pieces: Vec<Piece> = Vec::new();
    let mut coarser: Option<Cells> = None;
    for look in 0..LOOKS {
        let factor = (1 << look) as f64;
        let here = coarser.as_ref().unwrap_or(cells);
        pieces.extend(lines::pieces(here, factor, least_length, least_gradient));
        coarser = Some(here.halved());
    }
    pieces.retain(|p| (LEAN_DEG.0..=LEAN_DEG.1).contains(&p.lean_deg()));
    pieces.sort_by(|a, b| (b.length() * b.steepness.sqrt()).total_cmp(&(a.length() * a.steepness.sqrt())));
    let mut distinct: Vec<Piece> = Vec::new();
    for piece in pieces {
        if distinct.len() >= CANDIDATES {
            break;
        }
        if !distinct.iter().any(|other| same(other, &piece)) {
            distinct.push(piece);
        }
    }
    let with_sites = distinct.into_iter().map(|piece| {
        let mut sites = ground::sites(cells, &piece);
        sites.retain(|s| fits(&piece, s, options));
        (piece, sites)
    });
    with_sites.filter(|(_, sites)| !sites.is_empty()).collect()
}

/// True when two pieces are one edge seen twice.
fn same(a: &Piece, b: &Piece) -> bool {
    let (ax, ay) = a.along();
    let inside = |(x, y): (f64, f64)| {
        let (dx, dy) = (x - a.from.0, y - a.from.1);
        let (place, away) = (dx * ax + dy * ay, dx * ay - dy * ax);
        away.abs() < 4.0 && place > -4.0 && place < a.length() + 4.0
    };
    inside(b.from) && inside(b.to)
}

fn fits(piece: &Piece, site: &Site, options: &FindOptions) -> bool {
    let rows = site.length * piece.lean_deg().to_radians().cos();
    let step = site.high - site.low;
    let contrast = step / (site.high + site.low).max(1e-6);
    site.width >= LEAST_SIDE
        && site.height >= LEAST_SIDE
        && site.length * options.scale >= options.least_length_px
        && rows * piece.lean_deg().to_radians().tan() >= LEAST_CYCLES
        && step >= options.least_step
        && contrast >= options.least_contrast
        && step >= LEAST_RATIO * site.noise
}

/// Order of the trials: long edges with a clear step and room first.
fn promise(site: &Site) -> f64 {
    let step = site.high - site.low;
    let clear = step / (step + 10.0 * site.noise) * step / (step + 0.1);
    site.length.min(300.0) * clear * (site.room / (site.room + 6.0))
}

/// A few regions that differ enough to be worth a trial each.
fn spread(sites: &[Site]) -> Vec<&Site> {
    let mut out: Vec<&Site> = Vec::new();
    for site in sites {
        if out.iter().all(|o| site.length < 0.8 * o.length) {
            out.push(site);
        }
        if out.len() >= TRIES {
            break;
        }
    }
    out
}

/// The checks of measuring on a region of the picture looked at.
fn tried(picture: &Picture<Linear>, piece: &Piece, site: &Site, options: &FindOptions) -> Option<FoundEdge> {
    let report = quick(&cut(picture, site)?).ok()?;
    let luminance = report.channel(Channel::Luminance)?;
    let step = luminance.high - luminance.low;
    let ratio = step / luminance.noise.max(1e-9);
    let upright = piece.along().1.abs() >= piece.along().0.abs();
    let same_way = upright == (report.direction == Direction::NearVertical);
    let lean = (LEAN_DEG.0..=LEAN_DEG.1).contains(&report.angle_deg);
    let enough = step >= options.least_step && report.contrast >= options.least_contrast && ratio >= LEAST_RATIO;
    let straight = report.bend_px <= MOST_BEND_PX;
    if !(same_way && lean && enough && straight) || (report.angle_deg - piece.lean_deg()).abs() > 4.0 {
        return None;
    }
    let mut notes = notes(&report, site, (ratio, options.scale));
    notes.sort_by(|a, b| a.factor.total_cmp(&b.factor));
    Some(FoundEdge {
        region: full(site, options.scale),
        angle_deg: report.angle_deg,
        direction: report.direction,
        length_px: site.length * options.scale,
        contrast: report.contrast,
        step,
        quality: notes.iter().map(|n| n.factor).product(),
        notes,
    })
}

/// What lowers the quality. The factors are a ranking and nothing more (common practice, no source): an edge of a hundred
/// pixels that leans by 3 to 20 degrees, with twice its own blur of ground on both sides, loses little.
fn notes(report: &EdgeReport, site: &Site, (ratio, scale): (f64, f64)) -> Vec<QualityNote> {
    let length_px = site.length * scale;
    let (angle_deg, contrast) = (report.angle_deg, report.contrast);
    let room_px = site.room * scale;
    let mut all = vec![
        (1.0 - (-length_px / 60.0).exp(), QualityReason::Short { length_px }),
        ((angle_deg / 3.0).min(1.0), QualityReason::LeansLittle { angle_deg }),
        (1.0 - 0.4 * ((angle_deg - 20.0) / 25.0).clamp(0.0, 1.0), QualityReason::LeansFar { angle_deg }),
        ((contrast / 0.5).min(1.0).sqrt(), QualityReason::LittleContrast { contrast }),
        (ratio / (ratio + 5.0), QualityReason::Noise { ratio }),
        ((site.room / (8.0 + 0.5 * site.transition)).min(1.0), QualityReason::LittleRoom { room_px }),
    ];
    all.extend(report.remarks.iter().map(|r| (remark_factor(r), QualityReason::Remark(r.clone()))));
    all.into_iter().filter(|(factor, _)| *factor < 0.97).map(|(factor, why)| QualityNote { factor, why }).collect()
}

fn remark_factor(remark: &EdgeRemark) -> f64 {
    match remark {
        // A reduced picture is sharper than the full one; and a sharp edge is no fault of the edge.
        EdgeRemark::Undersampled { .. } => 1.0,
        EdgeRemark::Clipped { .. } | EdgeRemark::Narrow { .. } | EdgeRemark::ChannelLeftOut { .. } => 0.9,
        EdgeRemark::Uneven { percent, .. } => 1.0 / (1.0 + percent / 20.0),
        EdgeRemark::Disturbed { percent } => 1.0 / (1.0 + percent / 20.0),
        EdgeRemark::Curved { bend_px, .. } => 1.0 / (1.0 + 2.0 * bend_px),
        EdgeRemark::FewPhases { .. } | EdgeRemark::Sharpened { .. } => 0.6,
        EdgeRemark::Noisy { .. } => 0.9,
    }
}

/// The site in whole pixels of the full picture, rounded inwards.
fn full(site: &Site, scale: f64) -> Region {
    let side = |from: usize, size: usize| {
        let first = (from as f64 * scale).ceil();
        let last = ((from + size) as f64 * scale).floor();
        (first as u32, (last - first).max(1.0) as u32)
    };
    let ((x, width), (y, height)) = (side(site.x, site.width), side(site.y, site.height));
    Region { x, y, width, height }
}

fn cut(picture: &Picture<Linear>, site: &Site) -> Option<Picture<Linear>> {
    let part = |p: &Plane<Linear>| Plane::from_fn(site.width, site.height, |c, r| p.at(site.x + c, site.y + r)).ok();
    mapped(picture, part)
}

/// Means of so many pixels each way.
fn reduced(picture: &Picture<Linear>, times: usize) -> Option<Picture<Linear>> {
    let area = (times * times) as f32;
    let part = |p: &Plane<Linear>| {
        let (width, height) = (p.width() / times, p.height() / times);
        let mut sums = vec![0.0_f32; width * height];
        for row in 0..height * times {
            let line = &mut sums[row / times * width..][..width];
            for (sum, chunk) in line.iter_mut().zip(p.row(row).chunks_exact(times)) {
                *sum += chunk.iter().sum::<f32>() / area;
            }
        }
        Plane::new(width, height, sums).ok()
    };
    mapped(picture, part)
}

fn mapped(
    picture: &Picture<Linear>,
    part: impl Fn(&Plane<Linear>) -> Option<Plane<Linear>>,
) -> Option<Picture<Linear>> {
    match picture.channels() {
        Channels::Grey(plane) => Some(Picture::grey(part(plane)?)),
        Channels::Rgb { planes, luma } => rgb([part(&planes[0])?, part(&planes[1])?, part(&planes[2])?], *luma),
    }
}

fn rgb(planes: [Plane<Linear>; 3], luma: LumaWeights) -> Option<Picture<Linear>> {
    Picture::rgb(planes, luma).ok()
}
