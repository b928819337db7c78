//! What moves while the shutter is open.

use optics::Estimate;

/// Something that moves across the line of sight: the subject, or the camera as a whole, which is the same to the film.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Movement {
    /// Size on film over size of the subject.
    pub magnification: Estimate,
    /// The exposure, s.
    pub time_s: f64,
    /// How fast it moves, mm/s.
    pub speed_mm_s: f64,
    /// The largest smear on film that counts as sharp, µm.
    pub allowed_um: f64,
}

/// What a movement does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swept {
    /// Smear on film for each mm/s, µm.
    pub um_per_mm_s: Estimate,
    /// Smear on film at this speed, µm.
    pub smear_um: Estimate,
    /// The slowest time that keeps within what is allowed, s; `None` where nothing moves on film.
    pub slowest_s: Option<f64>,
    /// What is missing for that, stops of light; below 0 there is room.
    pub short_of_stops: Option<f64>,
}

impl Movement {
    /// Smear s = m·v·t, with 1000 µm to the millimetre. `None` when a figure cannot be: a time that is not above 0, a speed or an allowance
    /// below 0.
    pub fn swept(&self) -> Option<Swept> {
        let real = |x: f64, low: f64| x.is_finite() && x >= low;
        let m = self.magnification;
        let there =
            self.time_s > 0.0 && self.time_s.is_finite() && self.allowed_um > 0.0 && self.allowed_um.is_finite();
        if !(there && real(self.speed_mm_s, 0.0) && real(m.value, 0.0) && real(m.plus_minus, 0.0)) {
            return None;
        }
        let times = |factor: f64| Estimate { value: factor * m.value, plus_minus: factor * m.plus_minus };
        let um_per_mm_s = times(1000.0 * self.time_s);
        let smear_um = times(1000.0 * self.time_s * self.speed_mm_s);
        let rate = 1000.0 * m.value * self.speed_mm_s;
        let slowest_s = (rate > 0.0).then(|| self.allowed_um / rate).filter(|slowest| slowest.is_finite());
        let short_of_stops = slowest_s.map(|slowest| (self.time_s / slowest).log2());
        Some(Swept { um_per_mm_s, smear_um, slowest_s, short_of_stops })
    }
}

/// Whether the body has a mirror that swings up for the exposure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mirror {
    /// It has.
    Swings,
    /// It has none.
    None,
    /// Nobody said.
    Unknown,
}

/// Shake of the camera's own making.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Shake {
    /// The mirror.
    #[error("{}: between about 1/2 and 1/30 s the mirror's blow shakes the picture most (common practice, no source): lock the mirror up and wait, give a longer time with less light, or use flash", if *.known { "this body has a mirror" } else { "the kit does not say whether this body has a mirror" })]
    Mirror {
        /// Whether the kit says so.
        known: bool,
    },
    /// The body's shutter alone.
    #[error(
        "between about 1/2 and 1/30 s the body's own shutter shakes the picture most (common practice, no source): a leaf shutter, a longer time with less light, or flash is safer"
    )]
    Shutter,
}

/// Where shake is worst, s (common practice, no source).
const SHAKEN_S: std::ops::RangeInclusive<f64> = 1.0 / 30.0..=0.5;

/// What shakes an exposure of that time. A leaf shutter in the lens moves too little to count; the mirror of its body swings all the same.
pub fn shake(time_s: f64, mirror: Mirror, leaf_shutter: bool) -> Option<Shake> {
    // Engraved speeds are rounded: 1/30 is meant with 1/32 as well.
    let near = SHAKEN_S.start() * 0.93..=SHAKEN_S.end() * 1.07;
    match (near.contains(&time_s), mirror, leaf_shutter) {
        (false, _, _) | (_, Mirror::None, true) => None,
        (_, Mirror::None, false) => Some(Shake::Shutter),
        (_, mirror, _) => Some(Shake::Mirror { known: mirror == Mirror::Swings }),
    }
}
