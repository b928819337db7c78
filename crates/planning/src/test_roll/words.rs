//! What a frame is for, in one sentence.

use super::bench::{Control, Test};
use super::slot::{Role, Slot};
use crate::words::figure;

/// An f-number as it is written: two digits.
pub(super) fn f_text(n: f64) -> String {
    let digits = if n < 10.0 { 1 } else { 0 };
    let text = format!("{n:.digits$}");
    text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
}

impl Test {
    /// What a frame is for, in one sentence.
    pub fn purpose(&self, slot: &Slot) -> String {
        let with = self.name(slot.contender);
        match slot.role {
            Role::Start => self.start(with),
            Role::End => format!(
                "The control again ({with}, as at the start): tells whether light, film or focus drifted in between."
            ),
            Role::Roll => {
                format!("The control on this roll ({with}): lets its frames be held against those of the roll before.")
            }
            Role::Own => format!("A frame of your own with {with}."),
            Role::Compare => self.compared(slot, with),
        }
    }

    /// What a set-up is called.
    pub fn name(&self, contender: usize) -> &str {
        match (&self.question.control, self.names.get(contender)) {
            (_, Some(name)) => name,
            (Control::Bare { name, .. }, None) => name,
            _ => "a set-up that is gone",
        }
    }

    fn start(&self, with: &str) -> String {
        let control = match self.question.control {
            Control::Off => "and is the first take of it",
            _ => "and is the control that the end is held against",
        };
        format!("The printed card with {with}: tells the scale of the scans and how even the light is, {control}.")
    }

    fn compared(&self, slot: &Slot, with: &str) -> String {
        let Some((group, member)) = self.member(slot.contender) else {
            return format!("{with}, which is not compared.");
        };
        let Some(aperture) = group.apertures.get(slot.aperture) else {
            return format!("{with}, at an aperture that is not compared.");
        };
        let at = format!("{with} at effective f/{}", f_text(aperture.effective));
        if slot.step != 0 {
            let step_mm = group.brackets[member][slot.aperture].map_or(0.0, |bracket| bracket.step_mm);
            let (way, fell) = if slot.step > 0 { ("farther from", "behind") } else { ("nearer to", "in front of") };
            let off = figure(step_mm * f64::from(slot.step.abs()));
            return format!("{at}, the camera {off} mm {way} the subject: in case the focus fell {fell} it.");
        }
        if slot.take > 0 {
            return format!("{at} once more, focused anew: tells scatter from difference.");
        }
        let others = if group.members.len() > 1 { ", against the others at the same" } else { "" };
        let why = match aperture.stops_from_best {
            Some(0) => best_words(&self.question.need.depth_mm),
            Some(-1) => "a stop wider than the best by calculation".into(),
            Some(1) => "a stop closed further than the best by calculation".into(),
            Some(stops) if stops < 0 => format!("{} stops wider than the best by calculation", -stops),
            Some(stops) => format!("{stops} stops closed further than the best by calculation"),
            None => "as asked for".into(),
        };
        format!("{at}, {why}{others}.")
    }
}

fn best_words(depth_mm: &Option<f64>) -> String {
    match depth_mm {
        Some(_) => "the best by calculation between depth and diffraction".into(),
        None => "the best by calculation for a flat subject".into(),
    }
}
