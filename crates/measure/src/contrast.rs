//! Contrast and veiling glare: a black trap beside white.

use planes::{Channels, Linear, Picture, Plane};

use crate::algebra::{Figure, student_975};
use crate::numeric::{median, robust_deviation};
use crate::slanted::Channel;

/// Blocks that a patch is cut into along either side at most: their scatter shows the interval, grain that ties neighbours together
/// included.
const MOST_BLOCKS: usize = 8;
/// Least side of a block, pixels.
const LEAST_BLOCK: usize = 4;
/// Least side of a patch, pixels: three blocks.
const LEAST_SIDE: usize = 3 * LEAST_BLOCK;
/// Efficiency of the middle value: its variance is π/2 of the mean's for a normal scatter.
const MEDIAN_PRICE: f64 = std::f64::consts::FRAC_PI_2;
/// Blocks farther from the middle than this many deviations are dust or a reflection.
const OUTLYING: f64 = 5.0;

/// How contrast is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ContrastOptions {
    /// Reflectance of the black trap itself, 0 to 1: 0 for a hole into a black-lined box.
    pub trap_reflectance: f64,
    /// Reflectance of the white, 0 to 1.
    pub white_reflectance: f64,
    /// Samples at or below this linear value count as clipped at black.
    pub black: f64,
    /// Samples at or above this linear value count as clipped at white.
    pub white: f64,
    /// Share of clipped samples that is still forgiven.
    pub clipped_share: f64,
}

impl Default for ContrastOptions {
    /// A perfect trap beside perfect white; half a step of 16 bits inside either end; one sample in a hundred clipped.
    fn default() -> Self {
        Self {
            trap_reflectance: 0.0,
            white_reflectance: 1.0,
            black: 0.5 / 65_535.0,
            white: 1.0 - 0.5 / 65_535.0,
            clipped_share: 0.01,
        }
    }
}

/// A figure, or the bound that is all a clipped patch can give.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bounded {
    /// Measured.
    Measured(Figure),
    /// Not above this.
    AtMost(f64),
    /// Not below this.
    AtLeast(f64),
}

impl Bounded {
    /// The figure, when it is one.
    pub fn figure(self) -> Option<Figure> {
        match self {
            Self::Measured(figure) => Some(figure),
            Self::AtMost(_) | Self::AtLeast(_) => None,
        }
    }
}

/// Contrast of one channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChannelContrast {
    /// The channel.
    pub channel: Channel,
    /// Light of the trap, linear, 0 to 1.
    pub black: Bounded,
    /// Light of the white, linear, 0 to 1.
    pub white: Figure,
    /// White over black.
    pub ratio: Bounded,
    /// Veiling glare as a share of white: what a trap of no reflectance at all would show over what the white shows (ISO 9358 and
    /// ISO 18844 in spirit).
    pub glare: Bounded,
}

/// Contrast and glare.
#[derive(Debug, Clone, PartialEq)]
pub struct ContrastReport {
    /// Red, green, blue and luminance, or luminance alone for grey pictures.
    pub channels: Vec<ChannelContrast>,
    /// Reservations.
    pub remarks: Vec<ContrastRemark>,
}

impl ContrastReport {
    /// The figures of one channel.
    pub fn channel(&self, channel: Channel) -> Option<&ChannelContrast> {
        self.channels.iter().find(|c| c.channel == channel)
    }
}

/// Why no contrast was measured.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ContrastError {
    /// A patch without enough pixels.
    #[error(
        "the {patch} is {width} x {height} pixels; at least {least} x {least} are needed: draw a larger region of it"
    )]
    PatchTooSmall {
        /// "trap" or "white".
        patch: &'static str,
        /// Columns.
        width: usize,
        /// Rows.
        height: usize,
        /// Least of either.
        least: usize,
    },
    /// One patch grey, the other in colour.
    #[error("one patch is grey and the other in colour: take both from one scan")]
    Unlike,
    /// Samples that are no numbers.
    #[error("{count} samples of the {patch} are not finite numbers: the file or its tone curve is broken")]
    NotFinite {
        /// "trap" or "white".
        patch: &'static str,
        /// How many.
        count: usize,
    },
    /// The white is cut off, so nothing is known of how light it is.
    #[error(
        "{percent:.1} % of the white's {channel} samples are clipped, at most {most_percent} % are forgiven: how light the white is was not \
         recorded; expose or scan darker"
    )]
    WhiteClipped {
        /// The channel.
        channel: Channel,
        /// Share clipped, per cent.
        percent: f64,
        /// Most that is forgiven, per cent.
        most_percent: f64,
    },
    /// The trap is not darker than the white.
    #[error(
        "the trap ({black:.4}) is not darker than the white ({white:.4}) in {channel}: the regions were exchanged, or the picture \
         is a negative that was not turned"
    )]
    NotDarker {
        /// The channel.
        channel: Channel,
        /// Light of the trap.
        black: f64,
        /// Light of the white.
        white: f64,
    },
    /// A reflectance that is none.
    #[error(
        "the reflectances of trap ({trap}) and white ({white}) must be 0 or more, 1 or less, and the white's the higher"
    )]
    BadReflectance {
        /// Given for the trap.
        trap: f64,
        /// Given for the white.
        white: f64,
    },
}

/// A reservation about contrast.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum ContrastRemark {
    /// The trap is cut off at black: glare is below what is said, the ratio above.
    BlackClipped {
        /// The channel.
        channel: Channel,
        /// Share of its samples, 0 to 1.
        share: f64,
    },
    /// Parts of a patch stand out (dust, a reflection) and were left out.
    LeftOut {
        /// "trap" or "white".
        patch: &'static str,
        /// Blocks left out.
        count: usize,
        /// Of how many.
        of: usize,
    },
    /// A patch is not even.
    Uneven {
        /// "trap" or "white".
        patch: &'static str,
        /// Standard deviation of its blocks, per cent of its light.
        percent: f64,
    },
    /// What is found is less than the trap reflects by itself.
    BelowTrap {
        /// The channel.
        channel: Channel,
    },
}

impl std::fmt::Display for ContrastRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::BlackClipped { channel, share } => write!(
                f,
                "{:.1} % of the trap's {channel} samples are clipped at black: glare is at most what is said, contrast at least",
                100.0 * share
            ),
            Self::LeftOut { patch, count, of } => {
                write!(f, "{count} of {of} parts of the {patch} stand out (dust, a reflection) and were left out")
            }
            Self::Uneven { patch, percent } => {
                write!(
                    f,
                    "the {patch} is not even: its parts differ by {percent:.1} % of its light; the interval covers that"
                )
            }
            Self::BelowTrap { channel } => write!(
                f,
                "the trap shows less light in {channel} than its stated reflectance alone would: that reflectance is too high"
            ),
        }
    }
}

/// Light of an even patch.
struct Patch {
    light: Figure,
    low_share: f64,
    high_share: f64,
    blocks: usize,
    left_out: usize,
    deviation: f64,
}

fn patch(plane: &Plane<Linear>, options: &ContrastOptions) -> Patch {
    let (width, height) = (plane.width(), plane.height());
    let across = (width / LEAST_BLOCK).min(MOST_BLOCKS);
    let down = (height / LEAST_BLOCK).min(MOST_BLOCKS);
    let mean = |i: usize| {
        let (column, row) = (i % across, i / across);
        let columns = column * width / across..(column + 1) * width / across;
        let rows = row * height / down..(row + 1) * height / down;
        let count = columns.len() * rows.len();
        let sum: f64 = rows.map(|r| plane.row(r)[columns.clone()].iter().map(|s| f64::from(*s)).sum::<f64>()).sum();
        sum / count as f64
    };
    let means: Vec<f64> = (0..across * down).map(mean).collect();
    let (middle, spread) = (median(&means), robust_deviation(&means));
    let kept: Vec<f64> = means.iter().copied().filter(|m| (m - middle).abs() <= OUTLYING * spread.max(1e-12)).collect();
    let n = kept.len() as f64;
    let value = kept.iter().sum::<f64>() / n;
    let deviation = (kept.iter().map(|m| (m - value).powi(2)).sum::<f64>() / (n - 1.0).max(1.0)).sqrt();
    // A patch with blocks left out is trusted as its middle value would be.
    let price = if kept.len() < means.len() { MEDIAN_PRICE.sqrt() } else { 1.0 };
    let half = price * student_975(kept.len() - 1) * deviation / n.sqrt();
    let count = plane.samples().len() as f64;
    let share = |f: &dyn Fn(f64) -> bool| plane.samples().iter().filter(|s| f(f64::from(**s))).count() as f64 / count;
    Patch {
        light: Figure::new(value, half),
        low_share: share(&|s| s <= options.black),
        high_share: share(&|s| s >= options.white),
        blocks: means.len(),
        left_out: means.len() - kept.len(),
        deviation,
    }
}

/// Contrast and veiling glare from a region of a black trap and one of white beside it, both in linear light.
///
/// With E the light that reflectance 1 would show and V the veil, black = E·ρt + V and white = E·ρw + V. The glare is V/white,
/// V = black - (white - black)·ρt/(ρw - ρt). Intervals come from the scatter of each patch's blocks (so grain and unevenness count),
/// by first-order propagation.
pub fn contrast(
    trap: &Picture<Linear>,
    white: &Picture<Linear>,
    options: &ContrastOptions,
) -> Result<ContrastReport, ContrastError> {
    let (t, w) = (options.trap_reflectance, options.white_reflectance);
    if !(0.0 <= t && t < w && w <= 1.0) {
        return Err(ContrastError::BadReflectance { trap: t, white: w });
    }
    for (patch, picture) in [("trap", trap), ("white", white)] {
        let (width, height) = (picture.width(), picture.height());
        if width < LEAST_SIDE || height < LEAST_SIDE {
            return Err(ContrastError::PatchTooSmall { patch, width, height, least: LEAST_SIDE });
        }
        let count = planes(picture).iter().flat_map(|(_, p)| p.samples().to_vec()).filter(|s| !s.is_finite()).count();
        if count > 0 {
            return Err(ContrastError::NotFinite { patch, count });
        }
    }
    let (dark, light) = (planes(trap), planes(white));
    if dark.len() != light.len() {
        return Err(ContrastError::Unlike);
    }
    let mut remarks = Vec::new();
    let mut channels = Vec::new();
    // Luminance is as much cut off as the colour that is most: the sum itself never shows it.
    let (mut low, mut high) = (0.0_f64, 0.0_f64);
    for ((channel, dark), (_, light)) in dark.iter().zip(&light) {
        let (mut dark, mut light) = (patch(dark, options), patch(light, options));
        (low, high) = (low.max(dark.low_share), high.max(light.high_share));
        if *channel == Channel::Luminance {
            (dark.low_share, light.high_share) = (low, high);
        }
        channels.push(one(*channel, &dark, &light, options, &mut remarks)?);
    }
    Ok(ContrastReport { channels, remarks })
}

/// The planes of a picture, luminance last.
fn planes(picture: &Picture<Linear>) -> Vec<(Channel, Plane<Linear>)> {
    let mut out = Vec::new();
    if let Channels::Rgb { planes, .. } = picture.channels() {
        out.extend([Channel::Red, Channel::Green, Channel::Blue].into_iter().zip(planes.iter().cloned()));
    }
    out.push((Channel::Luminance, picture.luminance()));
    out
}

/// Unevenness of a patch that is worth a word, per cent of its light.
const UNEVEN_PERCENT: f64 = 5.0;

fn one(
    channel: Channel,
    dark: &Patch,
    light: &Patch,
    options: &ContrastOptions,
    remarks: &mut Vec<ContrastRemark>,
) -> Result<ChannelContrast, ContrastError> {
    if light.high_share > options.clipped_share {
        let most_percent = 100.0 * options.clipped_share;
        return Err(ContrastError::WhiteClipped { channel, percent: 100.0 * light.high_share, most_percent });
    }
    let (b, w) = (dark.light, light.light);
    if b.value >= w.value {
        return Err(ContrastError::NotDarker { channel, black: b.value, white: w.value });
    }
    if channel == Channel::Luminance {
        for (patch, found) in [("trap", dark), ("white", light)] {
            if found.left_out > 0 {
                remarks.push(ContrastRemark::LeftOut { patch, count: found.left_out, of: found.blocks });
            }
        }
        let percent = 100.0 * light.deviation / w.value;
        if percent > UNEVEN_PERCENT {
            remarks.push(ContrastRemark::Uneven { patch: "white", percent });
        }
    }
    // glare = (b - (w - b) k)/w with k = ρt/(ρw - ρt): (1 + k) b/w - k.
    let k = options.trap_reflectance / (options.white_reflectance - options.trap_reflectance);
    let share = b.value / w.value;
    let doubt = (b.plus_minus / w.value).hypot(share * w.plus_minus / w.value);
    if dark.low_share > options.clipped_share {
        remarks.push(ContrastRemark::BlackClipped { channel, share: dark.low_share });
        // Samples that were cut off at black stand too high, never too low.
        let most = (b.value + b.plus_minus).max(options.black);
        let least_white = (w.value - w.plus_minus).max(f64::MIN_POSITIVE);
        return Ok(ChannelContrast {
            channel,
            black: Bounded::AtMost(most),
            white: w,
            ratio: Bounded::AtLeast(least_white / most),
            glare: Bounded::AtMost(((1.0 + k) * most / least_white - k).max(0.0)),
        });
    }
    let glare = Figure::new((1.0 + k) * share - k, (1.0 + k) * doubt);
    if glare.value + glare.plus_minus < 0.0 {
        remarks.push(ContrastRemark::BelowTrap { channel });
    }
    // A black that noise does not tell from nothing bounds the ratio from below only.
    let ratio = if b.stands_out() && b.value > 0.0 {
        Bounded::Measured(Figure::new(1.0 / share, doubt / share.powi(2)))
    } else {
        let most = (b.value + b.plus_minus).max(f64::MIN_POSITIVE);
        Bounded::AtLeast((w.value - w.plus_minus).max(0.0) / most)
    };
    Ok(ChannelContrast { channel, black: Bounded::Measured(b), white: w, ratio, glare: Bounded::Measured(glare) })
}
