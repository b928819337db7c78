//! What a use asks for.

/// A kind of figure, with its unit.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Quantity {
    /// The fineness on film, line pairs per mm, at which this share of contrast (0 to 1) is left.
    Resolution {
        /// Share of contrast.
        contrast: f64,
    },
    /// The share of contrast, 0 to 1, left at this fineness on film.
    Contrast {
        /// Line pairs per mm on film.
        lp_mm: f64,
    },
    /// Stray light in the shadows over light from white, 0 to 1.
    Glare,
    /// Displacement of red or blue against green, µm on film.
    Fringing,
    /// Fall-off against the centre, stops.
    Unevenness,
    /// From the subject to the foremost part, mm.
    WorkingDistance,
    /// Light lost to extension, converters and filters, stops.
    LightLost,
    /// Image over subject.
    Magnification,
    /// Shorter side of what the frame covers in the plane of the subject, mm.
    Field,
}

impl Quantity {
    /// Whether more of it is usually wanted.
    pub fn usual_bound(self) -> Bound {
        match self {
            Self::Resolution { .. }
            | Self::Contrast { .. }
            | Self::WorkingDistance
            | Self::Magnification
            | Self::Field => Bound::AtLeast,
            Self::Glare | Self::Fringing | Self::Unevenness | Self::LightLost => Bound::AtMost,
        }
    }

    /// Its unit; empty for a ratio.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Resolution { .. } => "lp/mm",
            Self::Contrast { .. } | Self::Glare | Self::Magnification => "",
            Self::Fringing => "µm",
            Self::Unevenness | Self::LightLost => "stops",
            Self::WorkingDistance | Self::Field => "mm",
        }
    }

    /// Whether two figures are of one kind, their contrast or fineness alike to a millionth.
    pub fn is_same(self, other: Self) -> bool {
        let alike = |a: f64, b: f64| (a - b).abs() <= 1e-6 * a.abs().max(b.abs());
        match (self, other) {
            (Self::Resolution { contrast: a }, Self::Resolution { contrast: b }) => alike(a, b),
            (Self::Contrast { lp_mm: a }, Self::Contrast { lp_mm: b }) => alike(a, b),
            _ => self == other,
        }
    }

    /// Its contrast or fineness where that makes no sense.
    pub(super) fn nonsense(self) -> Option<f64> {
        match self {
            Self::Resolution { contrast } => (!(contrast > 0.0 && contrast < 1.0)).then_some(contrast),
            Self::Contrast { lp_mm } => (!(lp_mm > 0.0 && lp_mm.is_finite())).then_some(lp_mm),
            _ => None,
        }
    }
}

/// On which side of its limit a figure shall lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// At the limit or above.
    AtLeast,
    /// At the limit or below.
    AtMost,
}

/// A limit, itself perhaps uncertain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// The limit, in the quantity's unit.
    pub value: f64,
    /// Half-width of its 95 % interval; 0 for a limit that is a decision.
    pub plus_minus: f64,
}

/// Where a limit comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// Printed somewhere.
    Published(String),
    /// Common practice, no source.
    CommonPractice,
    /// The person's own choice.
    OwnChoice,
}

/// One thing that a use asks for.
#[derive(Debug, Clone, PartialEq)]
pub struct Requirement {
    /// Of what.
    pub quantity: Quantity,
    /// On which side of the limit.
    pub bound: Bound,
    /// The limit.
    pub limit: Limit,
    /// Across which part of the frame: from the centre out to this share of the way to the corner, 0 to 1.
    pub out_to: f64,
    /// Why, in words.
    pub reason: String,
    /// Where the limit comes from.
    pub source: Source,
}

/// What pictures are for.
#[derive(Debug, Clone, PartialEq)]
pub struct Use {
    /// Its name.
    pub id: String,
    /// Everything it asks for, all at once.
    pub requirements: Vec<Requirement>,
}

/// Why a use cannot be judged by.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum UseError {
    /// It asks for nothing.
    #[error("“{use_id}” asks for nothing, so anything would do: give it a requirement")]
    AsksNothing {
        /// The use.
        use_id: String,
    },
    /// A number is none, or out of range.
    #[error("“{use_id}”, requirement {number}: {what} is {value}; {wanted}")]
    BadNumber {
        /// The use.
        use_id: String,
        /// Which requirement, from 1.
        number: usize,
        /// Which number.
        what: &'static str,
        /// As given.
        value: f64,
        /// What it must be.
        wanted: &'static str,
    },
    /// Two requirements exclude each other.
    #[error(
        "“{use_id}” asks for at least {least} (requirement {first}) and at most {most} (requirement {second}) of the same figure: nothing can have both"
    )]
    Contradiction {
        /// The use.
        use_id: String,
        /// Requirement with the lower limit, from 1.
        first: usize,
        /// At least.
        least: f64,
        /// Requirement with the upper limit, from 1.
        second: usize,
        /// At most.
        most: f64,
    },
}

impl Use {
    /// Refuses what makes no sense.
    pub fn check(&self) -> Result<(), UseError> {
        if self.requirements.is_empty() {
            return Err(UseError::AsksNothing { use_id: self.id.clone() });
        }
        self.requirements.iter().enumerate().try_for_each(|(at, requirement)| self.check_one(at + 1, requirement))?;
        self.check_contradictions()
    }

    fn check_one(&self, number: usize, requirement: &Requirement) -> Result<(), UseError> {
        let Limit { value, plus_minus } = requirement.limit;
        let out_to = requirement.out_to;
        let bad = |what, value, wanted| UseError::BadNumber { use_id: self.id.clone(), number, what, value, wanted };
        if let Some(value) = requirement.quantity.nonsense() {
            return Err(bad("its contrast or fineness", value, "a contrast lies between 0 and 1, a fineness above 0"));
        }
        if !value.is_finite() {
            return Err(bad("the limit", value, "it must be a number"));
        }
        if !(plus_minus >= 0.0 && plus_minus.is_finite()) {
            return Err(bad("the limit's half-width", plus_minus, "it must be a number, 0 or above"));
        }
        if !(0.0..=1.0).contains(&out_to) {
            return Err(bad("the part of the frame", out_to, "it must lie between 0 (centre) and 1 (corner)"));
        }
        Ok(())
    }

    fn check_contradictions(&self) -> Result<(), UseError> {
        let of = |bound| self.requirements.iter().enumerate().filter(move |(_, r)| r.bound == bound);
        for (first, low) in of(Bound::AtLeast) {
            for (second, high) in of(Bound::AtMost) {
                let (least, most) = (low.limit.value, high.limit.value);
                if low.quantity.is_same(high.quantity) && least > most {
                    let (first, second) = (first + 1, second + 1);
                    return Err(UseError::Contradiction { use_id: self.id.clone(), first, least, second, most });
                }
            }
        }
        Ok(())
    }
}
