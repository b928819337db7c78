//! `plan --json`

use super::{Measured, ReachedDocument, reached};
use crate::bench::{Chain, Foretold};
use crate::planner::{Likelies, Likely, OUT_TO, Plan, Planned};
use planning::Feasible;
use serde::Serialize;

/// What a kit has for a job.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanDocument {
    need: NeedDocument,
    serving: usize,
    /// Set-ups that nothing beats and that are much like one of those listed.
    alike: usize,
    setups: Vec<PlannedDocument>,
    /// Set-ups that are beaten in all that the kit's data tell, and surely sharper or freer of colour, as predicted, than what beats
    /// them.
    added_by_prediction: Vec<PlannedDocument>,
    /// What predicted figures are and are not; absent where there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    predicted_label: Option<String>,
    /// Pitch of the scans that predictions count, µm on film.
    predicted_pitch_um: Option<f64>,
    ruled_out: Vec<RuledOutDocument>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct NeedDocument {
    magnification: f64,
    enlargement: f64,
    on_film_lp_mm: f64,
    on_subject_lp_mm: f64,
    circle_of_confusion_mm: f64,
    depth_mm: Option<f64>,
    diffraction_limit_f_number: f64,
    depth_limit_f_number: Option<f64>,
    balanced_f_number: Option<f64>,
    aperture: ApertureDocument,
}

/// Effective f-numbers between which one exposure serves, or the focus steps where none does.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum ApertureDocument {
    OneExposure { from: Option<f64>, to: f64, best: Option<f64> },
    Steps { count: u32, step_mm: f64, effective_f_number: f64, depth_each_mm: f64 },
    TooDim { widest: f64, limit: f64 },
}

impl From<Feasible> for ApertureDocument {
    fn from(feasible: Feasible) -> Self {
        match feasible {
            Feasible::OneExposure { from, to, best } => Self::OneExposure { from, to, best },
            Feasible::Steps(steps) => Self::Steps {
                count: steps.count,
                step_mm: steps.step_mm,
                effective_f_number: steps.effective_f_number,
                depth_each_mm: steps.depth_each_mm,
            },
            Feasible::TooDim { widest, limit } => Self::TooDim { widest, limit },
        }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct PlannedDocument {
    #[serde(flatten)]
    setup: ReachedDocument,
    used_at: f64,
    cut_away: f64,
    enlargement: f64,
    stops_lost: f64,
    working_distance_mm: Option<f64>,
    glass_added: usize,
    depth_in_one_exposure_mm: f64,
    past_close_range: f64,
    aperture: ApertureDocument,
    /// What tracing predicts; absent where nothing was traced.
    #[serde(skip_serializing_if = "Option::is_none")]
    predicted: Option<PredictedDocument>,
}

/// Predicted, not measured. Figures are on the subject, half-widths those of 95 %.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct PredictedDocument {
    /// The engraved f-number that they hold at.
    f_number: f64,
    /// Share of contrast that the detail is told at.
    contrast: f64,
    /// Out to this share of the way to the corner.
    out_to: f64,
    detail_lp_mm: Option<Measured>,
    fringing_um: Option<Measured>,
    /// Lenses with the forms that stand for them.
    forms: Vec<[String; 2]>,
}

fn predicted(plan: &Plan, found: &Likely) -> PredictedDocument {
    let told = |told: &Option<Foretold>| {
        told.as_ref().map(|told| Measured { value: told.value, plus_minus: told.plus_minus() })
    };
    PredictedDocument {
        f_number: found.f_number,
        contrast: plan.need.brief().contrast,
        out_to: OUT_TO,
        detail_lp_mm: told(&found.detail),
        fringing_um: told(&found.fringing_um),
        forms: found.forms.iter().map(|(lens, form)| [lens.clone(), form.key().to_owned()]).collect(),
    }
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct RuledOutDocument {
    why: &'static str,
    count: usize,
    nearest: Option<Vec<String>>,
    missing: Option<String>,
}

impl PlanDocument {
    /// A plan with what tracing predicts of it.
    pub fn of(plan: &Plan, likelies: &Likelies, chain: Chain) -> Self {
        let front = plan.front.iter().enumerate().map(|(at, one)| {
            let found = likelies.front.get(at).and_then(|found| found.as_ref().ok());
            planned(one, found.map(|found| predicted(plan, found)))
        });
        let added = likelies.added.iter().map(|(one, found)| planned(one, Some(predicted(plan, found))));
        let (need, film) = (&plan.need, plan.need.on_film());
        Self {
            need: NeedDocument {
                magnification: need.magnification,
                enlargement: need.enlargement,
                on_film_lp_mm: need.on_film_lp_mm,
                on_subject_lp_mm: need.on_subject_lp_mm,
                circle_of_confusion_mm: need.circle_mm,
                depth_mm: need.depth_mm,
                diffraction_limit_f_number: film.diffraction_limit(),
                depth_limit_f_number: film.depth_limit(),
                balanced_f_number: film.balance().map(|balance| balance.effective_f_number),
                aperture: film.feasible(None).into(),
            },
            serving: plan.serving,
            alike: plan.alike,
            setups: front.collect(),
            added_by_prediction: added.collect(),
            predicted_label: likelies.any().then(|| likelies.label()),
            predicted_pitch_um: likelies.any().then_some(chain.pitch_um),
            ruled_out: plan
                .ruled_out
                .iter()
                .map(|out| RuledOutDocument {
                    why: out.reason.words(),
                    count: out.count,
                    nearest: out.nearest.as_ref().map(|(setup, _)| setup.parts.clone()),
                    missing: out.nearest.as_ref().map(|(_, unmet)| unmet.to_string()),
                })
                .collect(),
        }
    }
}

fn planned(planned: &Planned, predicted: Option<PredictedDocument>) -> PlannedDocument {
    let Planned { choice, setup } = planned;
    PlannedDocument {
        setup: reached(setup),
        used_at: choice.candidate.magnification,
        cut_away: choice.negative.cut_away,
        enlargement: choice.negative.enlargement,
        stops_lost: choice.candidate.stops_lost,
        working_distance_mm: choice.candidate.working_distance_mm,
        glass_added: choice.candidate.glass_added,
        depth_in_one_exposure_mm: choice.depth_mm,
        past_close_range: choice.candidate.past_close_range,
        aperture: choice.feasible.into(),
        predicted,
    }
}
