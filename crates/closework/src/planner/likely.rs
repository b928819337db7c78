//! What tracing predicts of planned set-ups, as more to choose by: never a reason to leave one out, and a reason to add one only where
//! the difference is beyond the doubt.

use kit::{Kit, Setup, SetupRequest};
use planning::{Axis, Choice, reprieved};

use super::{Plan, Planned, stop_for};
use crate::bench::{Chain, Design, Foresee, Foretold, PredictedFigures, Trace, not_yours};

/// What tracing predicts of a set-up at the stop at which it would be used; every figure on the subject, so that sizes compare.
#[derive(Debug, Clone, PartialEq)]
pub struct Likely {
    /// The engraved f-number.
    pub f_number: f64,
    /// Line pairs per mm of the subject with the job's contrast left, at the weakest of the places looked at.
    pub detail: Option<Foretold>,
    /// Red or blue beside green, µm on the subject, where it is most.
    pub fringing_um: Option<Foretold>,
    /// The lenses by their ids, and the forms that stand for them.
    pub forms: Vec<(String, Design)>,
}

/// Predictions for a whole plan.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Likelies {
    /// For each of the plan's front what is predicted, or why nothing is.
    pub front: Vec<Result<Likely, String>>,
    /// Beaten set-ups that are surely sharper, or surely freer of colour, than each that beats them.
    pub added: Vec<(Planned, Likely)>,
}

impl Likelies {
    /// Whether anything is predicted.
    pub fn any(&self) -> bool {
        self.front.iter().any(Result::is_ok) || !self.added.is_empty()
    }

    /// What stands beside every predicted figure.
    pub fn label(&self) -> String {
        let told = self.front.iter().flatten().chain(self.added.iter().map(|(_, likely)| likely));
        not_yours(told.flat_map(|likely| &likely.forms).map(|(_, design)| design))
    }

    /// Why nothing is, where nothing is.
    pub fn why_not(&self) -> Option<&str> {
        self.front.iter().find_map(|found| found.as_ref().err()).map(String::as_str)
    }
}

/// Out to here the picture's detail counts (common practice, no source: the outermost corner is ground).
pub const OUT_TO: f64 = 0.9;
/// Places looked at, as shares of the way to the corner of what is printed.
const PLACES: [f64; 3] = [0.0, 0.5 * OUT_TO, OUT_TO];

/// Traces a plan's set-ups; `None` where `trace` gave up.
pub fn likely(kit: &Kit, plan: &Plan, chain: Chain, trace: Trace<'_>) -> Option<Likelies> {
    let one = |planned: &Planned| of_planned(kit, plan, planned, chain, trace);
    let front: Vec<Result<Likely, String>> = plan.front.iter().map(one).collect::<Option<_>>()?;
    let near: Vec<Result<Likely, String>> = plan.near.iter().map(one).collect::<Option<_>>()?;
    let choices: Vec<Choice> = plan.front.iter().chain(&plan.near).map(|planned| planned.choice.clone()).collect();
    let all: Vec<Option<&Likely>> = front.iter().chain(&near).map(|found| found.as_ref().ok()).collect();
    let surely = |p: usize, q: usize| all[p].zip(all[q]).is_some_and(|(p, q)| surely_better(p, q));
    let members: Vec<usize> = (0..front.len()).collect();
    let added = reprieved(&choices, &Axis::ALL, &members, &surely).into_iter();
    let added = added.filter_map(|at| Some((plan.near[at - front.len()].clone(), all[at]?.clone()))).collect();
    Some(Likelies { front, added })
}

/// Whether one is sharper or freer of colour than another beyond the doubt of the difference.
fn surely_better(p: &Likely, q: &Likely) -> bool {
    let same_lens = p.forms == q.forms;
    let more = |p: &Option<Foretold>, q: &Option<Foretold>| {
        let (Some(p), Some(q)) = (p, q) else { return false };
        let difference = p.less(q, same_lens);
        difference.value > difference.plus_minus
    };
    more(&p.detail, &q.detail) || more(&q.fringing_um, &p.fringing_um)
}

fn of_planned(
    kit: &Kit,
    plan: &Plan,
    planned: &Planned,
    chain: Chain,
    trace: Trace<'_>,
) -> Option<Result<Likely, String>> {
    let (choice, f_number) = (&planned.choice, stop_for(&planned.choice));
    let setup = match resolved(kit, planned, f_number) {
        Ok(setup) => setup,
        Err(why) => return Some(Err(why)),
    };
    let brief = plan.need.brief();
    // Of a crop only the middle is printed.
    let corner_mm = 0.5 * brief.frame_mm[0].hypot(brief.frame_mm[1]);
    let printed_mm = corner_mm * (1.0 - choice.negative.cut_away);
    let asked = Foresee {
        film_mm: PLACES.iter().map(|place| place * printed_mm).collect(),
        corner_mm,
        contrasts: vec![brief.contrast],
        cycles_per_mm: Vec::new(),
        chain,
    };
    let told = trace(&setup, &asked)?.map_err(|why| why.to_string());
    Some(told.map(|told| on_subject(&told, choice.candidate.magnification, f_number)))
}

fn resolved<'a>(kit: &'a Kit, planned: &Planned, f_number: f64) -> Result<Setup<'a>, String> {
    let setting = planned.setup.setting.as_ref().ok_or("it cannot be set to the size wanted")?;
    let request =
        SetupRequest { parts: setting.parts.clone(), focus: setting.focus, f_number: Some(f_number), coc_mm: None };
    Setup::resolve(kit, &request).map_err(|why| why.to_string())
}

fn on_subject(told: &PredictedFigures, size: f64, f_number: f64) -> Likely {
    let details = told.places.iter().filter_map(|place| place.resolution[0].as_ref());
    let weakest = details.min_by(|a, b| a.value.total_cmp(&b.value));
    // A place that is dark has no detail: of such a set-up nothing is said.
    let weakest = weakest.filter(|_| told.places.iter().all(|place| place.resolution[0].is_some()));
    let fringes = told.places.iter().filter_map(|place| place.fringing_um.as_ref());
    let most = fringes.max_by(|a, b| a.value.total_cmp(&b.value));
    Likely {
        f_number,
        detail: weakest.map(|found| found.scaled(size)),
        fringing_um: most.map(|found| found.scaled(size.recip())),
        forms: told.forms.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Wishes, plan};
    use super::*;
    use crate::bench;
    use kit::Demand;
    use testkit::assert_close;

    fn kit(document: &str) -> Kit {
        Kit::parse(document).expect("a kit")
    }

    fn wishes() -> Wishes {
        Wishes {
            subject_mm: 40.0,
            subject_short_mm: None,
            subject_depth_mm: Some(12.0),
            depth_wanted_mm: None,
            fill: 0.7,
            print_mm: 150.0,
            criterion_lp_mm: 5.0,
            contrast: 0.2,
            least_working_distance_mm: Some(80.0),
            most_stops_lost: None,
            largest_crop: 0.0,
        }
    }

    fn traced(kit: &Kit) -> (Plan, Likelies) {
        let plan = plan(kit, &Demand::default(), &wishes()).expect("a plan");
        let trace: Trace<'_> = &|setup, asked| Some(bench::predicted(setup, asked));
        let found = likely(kit, &plan, Chain::USUAL, trace).expect("traced");
        (plan, found)
    }

    #[test]
    fn every_planned_set_up_of_lenses_with_forms_is_predicted() {
        let (plan, found) = traced(&kit(crate::demo::KIT));
        assert_eq!(found.front.len(), plan.front.len());
        let told: Vec<&Likely> = found.front.iter().flatten().collect();
        assert!(!told.is_empty() && found.any(), "{found:?}");
        for likely in &told {
            let detail = likely.detail.as_ref().expect("lit");
            assert!(detail.value > 1.0 && detail.plus_minus() > 0.05 * detail.value, "{likely:?}");
        }
        // What is added is surely better than all that beats it, and was not there before.
        for (planned, _) in &found.added {
            assert!(plan.front.iter().all(|known| known.setup.parts != planned.setup.parts));
        }
    }

    /// Of a converter the best case alone is known, which must not make a plan's set-up look sure: a kit whose only way to the size leads
    /// through one.
    #[test]
    fn set_ups_with_a_converter_are_not_predicted_and_say_why() {
        let only = "[[body]]\nid = \"body\"\nframe_mm = [56, 56]\nregister_mm = 80\nmount = \"m\"\n\
                    [[lens]]\nid = \"normal\"\nmount = \"m\"\nfocal_length_mm = 85\nmax_aperture = 2.8\nlength_mm = 60\n\
                    max_magnification = 0.9\ndesign_form = \"double-gauss-1954\"\n\
                    [[teleconverter]]\nid = \"doubler\"\nmount = \"m\"\nfactor = 2\nlength_mm = 40\n";
        let kit = kit(only);
        let plan = plan(&kit, &Demand::default(), &Wishes { subject_mm: 25.0, ..wishes() }).expect("a plan");
        let through = |planned: &Planned| planned.setup.parts.iter().any(|part| part == "doubler");
        assert!(!plan.front.is_empty() && plan.front.iter().all(through), "{:?}", plan.front);
        let trace: Trace<'_> = &|setup, asked| Some(bench::predicted(setup, asked));
        let found = likely(&kit, &plan, Chain::USUAL, trace).expect("traced");
        assert!(!found.any());
        let why = found.why_not().expect("why");
        assert!(why.contains("converter \"doubler\"") && why.contains("best case"), "{why}");
    }

    #[test]
    fn without_forms_the_plan_is_as_it_was() {
        let (_, found) = traced(&kit(&crate::demo::KIT.replace("design_form", "# design_form")));
        assert!(!found.any() && found.added.is_empty());
        assert!(found.why_not().expect("why").contains("design form"), "{found:?}");
    }

    #[test]
    fn tracing_that_is_ended_gives_nothing() {
        let kit = kit(crate::demo::KIT);
        let plan = plan(&kit, &Demand::default(), &wishes()).expect("a plan");
        assert!(likely(&kit, &plan, Chain::USUAL, &|_, _| None).is_none());
    }

    #[test]
    fn better_is_what_lies_beyond_the_doubt_of_the_difference() {
        let told = |value: f64, others: [f64; 2]| {
            let of_form = 4.303 * (others.iter().map(|o| (o - value).powi(2)).sum::<f64>() / 2.0).sqrt();
            Some(Foretold { value, of_form, of_focus: 1.0, of_chain: 0.0, others: others.map(Some).to_vec() })
        };
        let gauss = vec![("normal".to_owned(), Design::Form(rays::form("double-gauss-1954").expect("a form")))];
        let old = vec![("long".to_owned(), Design::Form(rays::form("triplet-derived-1903").expect("a form")))];
        let of = |detail, forms: &Vec<_>| Likely { f_number: 8.0, detail, fringing_um: None, forms: forms.clone() };
        let (p, q) = (of(told(30.0, [25.0, 36.0]), &gauss), of(told(20.0, [15.0, 26.0]), &gauss));
        // The same lens: every form has the first 10 finer, and focusing leaves √2 of doubt.
        assert!(surely_better(&p, &q) && !surely_better(&q, &p));
        let gap = p.detail.as_ref().expect("told").less(q.detail.as_ref().expect("told"), true);
        assert_close!(gap.plus_minus, 2.0f64.sqrt(), absolute = 1e-9);
        // Another lens: the forms' own scatter hides it.
        assert!(!surely_better(&p, &of(told(20.0, [15.0, 26.0]), &old)));
        // Less colour is better.
        let colour = |um: f64| Likely { fringing_um: told(um, [um, um]), ..of(None, &gauss) };
        assert!(surely_better(&colour(2.0), &colour(20.0)) && !surely_better(&colour(20.0), &colour(2.0)));
    }
}
