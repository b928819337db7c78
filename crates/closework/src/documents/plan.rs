//! `plan --json`

use super::{ReachedDocument, reached};
use crate::planner::{Plan, Planned};
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
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct RuledOutDocument {
    why: &'static str,
    count: usize,
    nearest: Option<Vec<String>>,
    missing: Option<String>,
}

impl From<&Plan> for PlanDocument {
    fn from(plan: &Plan) -> Self {
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
            setups: plan.front.iter().map(planned).collect(),
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

fn planned(planned: &Planned) -> PlannedDocument {
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
    }
}
