//! One combination of parts: what it reaches, how it is set, and what it lacks.

use crate::fit::Choice;
use crate::reach::{Miss, ReachedSetup, Setting, Span};
use crate::resolve::{Focus, Setup, SetupRequest};
use crate::spec::Spec;
use optics::{Figure, Figures};

/// More extension than this nobody puts together (common practice, no source).
const MOST_MORE_MM: f64 = 300.0;

/// Two mounts back to back (common practice, no source).
const SHORTEST_TUBE_MM: f64 = 5.0;

/// One combination of parts with its free length.
pub(crate) struct Family<'a> {
    setup: Setup<'a>,
    /// The set-up at infinity focus and shortest draw.
    shortest: Spec<f64>,
    /// How much longer the bellows can be drawn, mm.
    draw_slack: f64,
    /// How far the lens can travel and have it count, mm.
    travel_slack: f64,
}

impl<'a> Family<'a> {
    /// `None` when the lens's marks contradict each other, so that its travel is unknown.
    pub(crate) fn of(choices: &[Choice<'a>]) -> Option<Self> {
        let setup = Setup::of(choices.to_vec(), &SetupRequest::default()).ok()?;
        let shortest = setup.numbers();
        let reversed = setup.roles.reversing_ring.is_some();
        let travel = shortest.lens.largest_travel().ok()?.unwrap_or(0.0);
        let draw = |choice: &Choice<'_>| match choice.part.numbers("draw_mm")[..] {
            [from, to] => to - from,
            _ => 0.0,
        };
        let draw_slack = choices.iter().map(draw).sum();
        Some(Self { setup, shortest, draw_slack, travel_slack: if reversed { 0.0 } else { travel } })
    }

    fn slack(&self) -> f64 {
        self.draw_slack + self.travel_slack
    }

    /// The set-up with `slack` mm more between lens and film. For a lens held by its mount an extra tube and the same
    /// travel are the same thing; a reversed one has no travel that counts.
    fn at(&self, slack: f64) -> Spec<f64> {
        let mut spec = self.shortest.clone();
        spec.spacers.push(slack);
        spec
    }

    /// Minus the lateral magnification's sign included: positive for a real, inverted picture, 0 at infinity.
    fn signed_magnification(&self, slack: f64) -> Option<f64> {
        Some(-self.at(slack).train(0.0).matrix()?.a)
    }

    fn figures(&self, slack: f64) -> Option<Figures<f64>> {
        self.at(slack).figures(self.setup.coc_mm).ok()
    }

    fn working_distance(&self, slack: f64) -> f64 {
        self.figures(slack).map_or(f64::NEG_INFINITY, |f| f.get(Figure::WorkingDistance).unwrap_or(f64::INFINITY))
    }

    /// The slack at which the magnification is `wanted`, by the straight line through both ends.
    fn slack_for(&self, wanted: f64) -> Option<f64> {
        let from = self.signed_magnification(0.0)?;
        // A millimetre gives the slope even where there is no slack at all.
        let slope = self.signed_magnification(1.0)? - from;
        Some((wanted - from) / slope)
    }

    /// The usable part of the slack: something real is sharp and lies in front of the set-up.
    fn usable(&self) -> Option<(f64, f64)> {
        let from = if self.signed_magnification(0.0)? < 0.0 { self.slack_for(0.0)? } else { 0.0 };
        let to = self.slack();
        if from > to || self.working_distance(from) < 0.0 {
            return None;
        }
        Some((from, if self.working_distance(to) >= 0.0 { to } else { self.touching(from, to) }))
    }

    /// The slack at which the subject touches the front: working distance falls as slack grows.
    fn touching(&self, mut clear: f64, mut inside: f64) -> f64 {
        // Forty halvings take any bellows below a nanometre.
        for _ in 0..40 {
            let middle = 0.5 * (clear + inside);
            if self.working_distance(middle) >= 0.0 { clear = middle } else { inside = middle }
        }
        clear
    }

    pub(crate) fn span(&self) -> Option<Span> {
        let (from, to) = self.usable()?;
        let magnification = |slack| self.figures(slack)?.get(Figure::Magnification).filter(|m| m.is_finite());
        Some(Span { min: magnification(from)?, max: magnification(to)? })
    }

    fn parts(&self) -> Vec<String> {
        self.setup.choices.iter().map(|choice| choice.part.id().to_string()).collect()
    }

    pub(crate) fn reached(&self, span: Span, wanted: Option<f64>) -> ReachedSetup {
        let stops = |m: f64| {
            let figures = self.slack_for(m).and_then(|slack| self.figures(slack));
            figures.and_then(|f| f.get(Figure::ExposureStops)).unwrap_or(0.0)
        };
        ReachedSetup {
            parts: self.parts(),
            magnification: span,
            stops: Span { min: stops(span.min), max: stops(span.max) },
            glass_added: self.setup.roles.close_ups.len(),
            setting: wanted.and_then(|m| self.setting(m)),
        }
    }

    /// How to set the parts for a magnification in range: the bellows does what it can, the focusing ring the rest.
    fn setting(&self, wanted: f64) -> Option<Setting> {
        let slack = self.slack_for(wanted)?.clamp(0.0, self.slack());
        let drawn = slack.min(self.draw_slack);
        let mut left = drawn;
        let parts = self.setup.choices.iter().map(|choice| match choice.part.numbers("draw_mm")[..] {
            [from, to] => {
                let more = left.min(to - from);
                left -= more;
                format!("{}={}", choice.part.id(), from + more)
            }
            _ => choice.part.id().to_string(),
        });
        let parts = parts.collect();
        let travel = slack - drawn;
        let focus = if travel > 0.0 { Focus::Travel(travel) } else { Focus::Infinity };
        Some(Setting { parts, focus, figures: self.figures(slack)? })
    }

    pub(crate) fn miss(&self, span: Span, wanted: f64) -> (f64, Miss) {
        let off = if wanted > span.max { (wanted / span.max).ln() } else { (span.min / wanted).ln() };
        let slack = self.slack_for(wanted).unwrap_or(f64::NAN);
        let why = if wanted < span.min {
            self.too_much(span.min, -slack)
        } else if self.working_distance(slack) < 0.0 {
            format!("reaches {:.3}× at most: at {wanted}× the subject would lie inside the set-up", span.max)
        } else {
            format!("reaches {:.3}× at most; {}", span.max, self.too_little(slack - self.slack()))
        };
        (off, Miss { parts: self.parts(), magnification: span, why })
    }

    /// What would bring the magnification up: a tube of whole millimetres where the focusing travel or the bellows takes
    /// up the rest, the length itself where nothing does.
    fn too_little(&self, more: f64) -> String {
        // A millionth is rounding and must not cost a whole millimetre.
        let longest = (more + self.slack() + 1e-6).min(MOST_MORE_MM).floor();
        // No tube is thinner than its two mounts, when a longer one does as well.
        let shortest = (more - 1e-6).ceil().max(SHORTEST_TUBE_MM.min(longest));
        if more.is_nan() || more > MOST_MORE_MM {
            "that is out of reach with this lens; a shorter one would do".into()
        } else if shortest < longest {
            format!("a tube of {shortest} to {longest} mm would do")
        } else if shortest == longest {
            format!("a tube of {shortest} mm would do")
        } else {
            format!("{more:.1} mm more extension would do")
        }
    }

    /// What would bring the magnification down: less extension where there is as much, something else where not.
    fn too_much(&self, least: f64, less: f64) -> String {
        let extension = self.shortest.extension(0.0);
        let remedy = if less <= extension {
            format!("{less:.1} mm less extension would do")
        } else if !self.setup.roles.close_ups.is_empty() {
            "a weaker close-up lens, or none, would do".into()
        } else {
            "another lens would do".into()
        };
        format!("goes no lower than {least:.3}×; {remedy}")
    }

    pub(crate) fn blocked(&self) -> Miss {
        let missing = self.slack_for(0.0).map(|slack| slack - self.slack()).filter(|more| *more > 0.0);
        let cause = missing.map(|more| format!(": the lens sits {more:.1} mm too near the film"));
        let why = format!("nothing in front of it can be sharp{}", cause.unwrap_or_default());
        Miss { parts: self.parts(), magnification: Span { min: 0.0, max: 0.0 }, why }
    }
}
