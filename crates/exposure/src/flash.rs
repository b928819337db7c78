//! Flash: by guide number, or by a flash meter.

use optics::{Dual, Estimate, Input, Real, propagate};

/// Metres in a foot, exactly (international yard and pound agreement, 1959).
const METRES_PER_FOOT: f64 = 0.3048;

/// A guide number or a distance in feet, in metres.
pub fn metres(feet: f64) -> f64 {
    feet * METRES_PER_FOOT
}

/// The guide number in feet of a flash of so many beam candlepower seconds, with film of that speed: √(0.05·ISO·BCPS).
pub fn guide_number_feet(iso: f64, beam_candlepower_seconds: f64) -> f64 {
    (0.05 * iso * beam_candlepower_seconds).sqrt()
}

/// How strong a flash is, as its maker tells it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Strength {
    /// A guide number in metres, for a film of that speed.
    GuideNumber {
        /// m.
        metres: f64,
        /// Usually 100.
        iso: f64,
    },
    /// Beam candlepower seconds.
    Bcps(f64),
}

impl Strength {
    /// As a guide number for ISO 100, m.
    fn guide_number_m(self) -> f64 {
        match self {
            Self::GuideNumber { metres, iso } => metres * (100.0 / iso).sqrt(),
            Self::Bcps(bcps) => metres(guide_number_feet(100.0, bcps)),
        }
    }
}

/// A flash at work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lamp {
    /// How strong it is at full power.
    pub strength: Strength,
    /// The share of its power that is used: 1 for all of it.
    pub power: f64,
    /// Flash to subject, m.
    pub distance_m: f64,
    /// Width of its reflector, m, when it is known.
    pub reflector_m: Option<f64>,
}

/// Where the light comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum Power {
    /// One flash or two that light the same side of the subject.
    Lamps(Vec<Lamp>),
    /// What a flash meter at the subject says for all of them together, for a film of that speed.
    Metered {
        /// The f-number.
        f_number: f64,
        /// The speed that it was set to.
        iso: f64,
    },
}

/// Flash, and what stands between it and the film.
#[derive(Debug, Clone, PartialEq)]
pub struct Flash<'a> {
    /// The light.
    pub power: Power,
    /// The film's speed.
    pub iso: f64,
    /// What the set-up loses, stops.
    pub extension_stops: Estimate,
    /// What filters over the lens take, stops.
    pub filter_stops: Estimate,
    /// How long the flash burns, s, when that is known; the film's loss in very short exposures is counted only then.
    pub burns_s: Option<f64>,
    /// The film, when it is known.
    pub film: Option<&'a film::Film>,
    /// The f-number engraved on the lens that is in use.
    pub f_number: f64,
}

/// What to set.
#[derive(Debug, Clone, PartialEq)]
pub struct FlashAnswer {
    /// The engraved f-number that is right.
    pub f_number: Estimate,
    /// The f-number in use against it, stops: positive is too much light.
    pub error_stops: Estimate,
    /// How far away the flash would have to stand for the f-number in use, m; of two, both moved in proportion. `None` for a metered one.
    pub distance_m: Option<Estimate>,
    /// The share of the present power that would be right at the f-number in use; above 1 there is not enough.
    pub power: f64,
    /// What the film loses in so short an exposure, stops, where that is published.
    pub short_loss_stops: Estimate,
    /// Light of the first lamp over light of the second, each by itself, stops; `None` for one lamp.
    pub ratio_stops: Option<f64>,
    /// What to know.
    pub remarks: Vec<FlashRemark>,
}

/// Something to know about a flash exposure.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FlashRemark {
    /// Too near for guide numbers.
    #[error("{}{} m away is nearer than ten times the reflector's width ({} m): there guide numbers overstate the light, by how much nobody can say; meter it with a flash meter, or take a test frame and bracket toward more light (common practice, no source)", which(*.lamp), three(*.distance_m), three(10.0 * *.reflector_m))]
    TooNear {
        /// Which lamp, from 1; 0 when there is one.
        lamp: usize,
        /// m.
        distance_m: f64,
        /// m.
        reflector_m: f64,
    },
    /// Perhaps too near.
    #[error("{}nearer than ten times the reflector's width guide numbers overstate the light: here that is so for a reflector wider than {} mm; then meter with a flash meter, or take a test frame (common practice, no source)", which(*.lamp), three(100.0 * *.distance_m))]
    PerhapsTooNear {
        /// Which lamp, from 1; 0 when there is one.
        lamp: usize,
        /// m.
        distance_m: f64,
    },
    /// A film that loses in very short exposures.
    #[error(
        "{film} loses {printed} in an exposure of {at} s by its sheet ({source_words}); a flash that cuts itself off near the subject can burn so short: give its burning time and it is counted"
    )]
    ShortLoss {
        /// The film.
        film: String,
        /// As printed.
        printed: String,
        /// s, as a fraction.
        at: String,
        /// The sheet.
        source_words: String,
    },
}

fn which(lamp: usize) -> String {
    if lamp == 0 { String::new() } else { format!("flash {lamp}: ") }
}

fn three(figure: f64) -> String {
    let rounded = format!("{figure:.2}");
    if figure >= 100.0 { format!("{figure:.0}") } else { rounded.trim_end_matches('0').trim_end_matches('.').into() }
}

/// A flash that cannot be.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum FlashError {
    /// A figure outside its range.
    #[error("{what} must be {rule}, not {}", crate::check::plain(*.found))]
    OutOfRange {
        /// Which.
        what: &'static str,
        /// What it must be.
        rule: &'static str,
        /// What it was.
        found: f64,
    },
    /// None, or more than two.
    #[error("one flash or two are counted, not {0}")]
    Lamps(usize),
}

/// Guide numbers are rounded by up to 5 % of what a beam of their candlepower gives (Kodak E-4L, p. 2, whose table is so rounded).
const GUIDE_NUMBER_SHARE: f64 = 0.05;

/// Flash to subject, measured with a rule from the middle of the reflector, m (common practice, no source).
const DISTANCE_DOUBT_M: f64 = 0.005;

/// A flash meter shows tenths of a stop and is good to about a sixth (common practice, no source).
const METER_DOUBT_STOPS: f64 = 1.0 / 6.0;

/// Closer than so many widths of the reflector it is no point of light (common practice, no source).
const WIDTHS: f64 = 10.0;

impl Flash<'_> {
    /// What to set.
    ///
    /// Light adds: the squares of guide number over distance, E = Σ p·(GN/d)², for ISO 100. N = √(E·ISO/100)·2^(−lost/2): the inverse-square law,
    /// with what extension, filters and the film take off in stops.
    pub fn answer(&self) -> Result<FlashAnswer, FlashError> {
        self.check()?;
        let short = self.short_loss();
        let mut inputs = vec![self.extension_stops, self.filter_stops, short];
        inputs.extend(self.power.inputs());
        let inputs: Vec<_> = inputs.iter().map(|e| Input { value: e.value, plus_minus: e.plus_minus }).collect();
        let (iso, used) = (self.iso, self.f_number);
        let compute = |x: &[Dual]| -> Result<_, std::convert::Infallible> {
            let light = self.power.light(&x[3..]) + Dual::exact((iso / 100.0).log2());
            Ok(vec![Some(light - x[0] - x[1] - x[2] - Dual::exact(2.0 * used.log2()))])
        };
        let Ok(results) = propagate(&inputs, compute);
        let error_stops = results[0].unwrap_or(Estimate::exact(0.0));
        let scaled = |by: f64| {
            let value = (0.5 * error_stops.value).exp2() * by;
            Estimate { value, plus_minus: 0.5 * std::f64::consts::LN_2 * value * error_stops.plus_minus }
        };
        Ok(FlashAnswer {
            f_number: scaled(used),
            error_stops,
            distance_m: self.power.lamps().first().map(|lamp| scaled(lamp.distance_m)),
            power: (-error_stops.value).exp2(),
            short_loss_stops: short,
            ratio_stops: self.power.ratio_stops(),
            remarks: self.remarks(),
        })
    }

    /// The film's loss while the flash burns. Nothing is lost unless it is published for so short a time.
    fn short_loss(&self) -> Estimate {
        let law = self.film.and_then(film::Film::law).zip(self.burns_s);
        law.map_or(Estimate::exact(0.0), |(law, burns_s)| {
            let given = law.given(burns_s);
            // The flash burns no longer for the asking: what it lacks is opened up, by the column of stops.
            let stops = given.open_stops.unwrap_or(0.0);
            Estimate { value: stops, plus_minus: if stops > 0.0 { given.plus_minus_stops } else { 0.0 } }
        })
    }

    fn check(&self) -> Result<(), FlashError> {
        let above = |what: &'static str, found: f64| positive(what, found);
        above("the film's speed", self.iso)?;
        above("the f-number", self.f_number)?;
        self.burns_s.map_or(Ok(()), |burns| above("the flash's burning time in seconds", burns))?;
        for (what, stops) in [
            ("the light that the set-up loses, in stops,", self.extension_stops),
            ("the light that filters take, in stops,", self.filter_stops),
        ] {
            if !(stops.value.is_finite() && stops.plus_minus.is_finite()) {
                return Err(FlashError::OutOfRange { what, rule: "a finite number", found: stops.value });
            }
        }
        match &self.power {
            Power::Metered { f_number, iso } => {
                above("the flash meter's f-number", *f_number)?;
                above("the speed that the flash meter is set to", *iso)
            }
            Power::Lamps(lamps) if lamps.is_empty() || lamps.len() > 2 => Err(FlashError::Lamps(lamps.len())),
            Power::Lamps(lamps) => lamps.iter().try_for_each(Lamp::check),
        }
    }

    fn remarks(&self) -> Vec<FlashRemark> {
        let lamps = self.power.lamps();
        let number = |at: usize| if lamps.len() > 1 { at + 1 } else { 0 };
        let mut remarks: Vec<_> = lamps.iter().enumerate().filter_map(|(at, lamp)| lamp.near(number(at))).collect();
        if let (None, Some(film)) = (self.burns_s, self.film) {
            remarks.extend(short_remark(film));
        }
        remarks
    }
}

/// The shortest printed time with a loss, when it is shorter than any ordinary shutter's.
fn short_remark(film: &film::Film) -> Option<FlashRemark> {
    let law = film.law()?;
    let film::Form::Table(table) = &law.form else { return None };
    let row = table.rows().first().filter(|row| row.metered_s < 1e-3)?;
    let printed = row.stops.as_ref().filter(|stops| stops.value > 0.0)?;
    Some(FlashRemark::ShortLoss {
        film: film.name.clone(),
        printed: printed.to_string(),
        at: format!("1/{:.0}", 1.0 / row.metered_s),
        source_words: law.source.words(),
    })
}

fn positive(what: &'static str, found: f64) -> Result<(), FlashError> {
    if found.is_finite() && found > 0.0 { Ok(()) } else { Err(FlashError::OutOfRange { what, rule: "above 0", found }) }
}

impl Lamp {
    fn check(&self) -> Result<(), FlashError> {
        match self.strength {
            Strength::GuideNumber { metres, iso } => {
                positive("the guide number", metres)?;
                positive("the speed that the guide number is stated for", iso)?;
            }
            Strength::Bcps(bcps) => positive("the flash's beam candlepower seconds", bcps)?,
        }
        positive("the distance from flash to subject", self.distance_m)?;
        self.reflector_m.map_or(Ok(()), |width| positive("the reflector's width", width))?;
        if self.power > 0.0 && self.power <= 1.0 {
            return Ok(());
        }
        Err(FlashError::OutOfRange {
            what: "the share of the flash's power",
            rule: "above 0 and at most 1",
            found: self.power,
        })
    }

    fn near(&self, lamp: usize) -> Option<FlashRemark> {
        let distance_m = self.distance_m;
        match self.reflector_m {
            Some(reflector_m) if distance_m < WIDTHS * reflector_m => {
                Some(FlashRemark::TooNear { lamp, distance_m, reflector_m })
            }
            Some(_) => None,
            // No reflector is so wide that it would matter from a metre and a half.
            None => (distance_m < 1.5).then_some(FlashRemark::PerhapsTooNear { lamp, distance_m }),
        }
    }

    /// Its light by itself at ISO 100, stops above a guide number of 1 m at 1 m.
    fn light(&self, guide_number: Dual, distance: Dual) -> Dual {
        let ratio = guide_number / distance;
        Dual::exact(self.power) * ratio * ratio
    }
}

impl Power {
    fn lamps(&self) -> &[Lamp] {
        match self {
            Self::Lamps(lamps) => lamps,
            Self::Metered { .. } => &[],
        }
    }

    fn inputs(&self) -> Vec<Estimate> {
        let of = |lamp: &Lamp| {
            let number = lamp.strength.guide_number_m();
            let guide = Estimate { value: number, plus_minus: GUIDE_NUMBER_SHARE * number };
            [guide, Estimate { value: lamp.distance_m, plus_minus: DISTANCE_DOUBT_M }]
        };
        match self {
            Self::Lamps(lamps) => lamps.iter().flat_map(of).collect(),
            Self::Metered { .. } => vec![Estimate { value: 0.0, plus_minus: METER_DOUBT_STOPS }],
        }
    }

    /// log₂ of E at ISO 100.
    fn light(&self, x: &[Dual]) -> Dual {
        match self {
            Self::Lamps(lamps) => {
                let each = lamps.iter().zip(x.chunks_exact(2)).map(|(lamp, x)| lamp.light(x[0], x[1]));
                each.fold(Dual::exact(0.0), |sum, light| sum + light).log2()
            }
            Self::Metered { f_number, iso } => Dual::exact(2.0 * f_number.log2() - (iso / 100.0).log2()) + x[0],
        }
    }

    fn ratio_stops(&self) -> Option<f64> {
        let [first, second] = self.lamps() else { return None };
        let light = |lamp: &Lamp| lamp.power * (lamp.strength.guide_number_m() / lamp.distance_m).powi(2);
        Some((light(first) / light(second)).log2())
    }
}
