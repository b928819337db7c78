//! The frames that a test wants, the most telling first.

use super::bench::Test;
use super::bracket::steps;
use super::decide::Shifts;
use super::slot::{Role, Slot};

/// Takes of a set-up at an aperture at most: beyond that a difference is too small to be worth a film.
pub const MOST_TAKES: usize = 16;

/// An aperture and a take.
#[derive(Debug, Clone, Copy)]
struct Level {
    aperture: usize,
    take: usize,
}

impl Test {
    /// Every frame that the test wants until it can tell all that was asked, the most telling first. However few frames
    /// there are, they are the first of this list, so that fewer never tell more.
    ///
    /// First the card and each set-up once at the best aperture, then the control at the end, then what focus brackets add;
    /// then by turns the next aperture and a repeat at those before: a repeat at the best aperture comes after the second
    /// aperture, one at the second after the third. Frames at hand beyond the list stay free.
    pub fn wishes(&self, most: usize) -> Vec<Slot> {
        let mut wishes: Vec<Slot> = Vec::new();
        let mut shifts = Shifts::of(self);
        for (number, level) in self.levels().into_iter().enumerate() {
            if wishes.len() >= most || (number > 0 && level.take > 0 && self.told(&wishes, &mut shifts)) {
                break;
            }
            self.add_level(level, &mut wishes);
        }
        wishes.truncate(most);
        wishes
    }

    fn told(&self, wishes: &[Slot], shifts: &mut Shifts) -> bool {
        let decision = self.decide_with(wishes, shifts);
        !decision.pairs.is_empty() && decision.pairs.iter().all(|pair| pair.told)
    }

    fn levels(&self) -> Vec<Level> {
        let apertures = self.groups.iter().map(|group| group.apertures.len()).max().unwrap_or(0);
        let takes = 0..MOST_TAKES;
        let mut levels: Vec<Level> =
            takes.flat_map(|take| (0..apertures).map(move |aperture| Level { aperture, take })).collect();
        levels.sort_by_key(|level| (2 * level.take + level.aperture, level.aperture));
        levels
    }

    fn add_level(&self, level: Level, wishes: &mut Vec<Slot>) {
        let Level { aperture, take } = level;
        let control = self.control();
        let compare = |contender, step| Slot { role: Role::Compare, contender, aperture, take, step };
        let able = self.groups.iter().flat_map(|group| {
            let has = move |m: &usize| group.brackets[*m].get(aperture).copied().flatten();
            (0..group.members.len()).filter_map(move |m| Some((group.members[m].contender, has(&m)?)))
        });
        let able: Vec<_> = able.collect();
        if (aperture, take) == (0, 0) {
            wishes.push(self.control_slot(Role::Start, 0));
        }
        let centres = able.iter().map(|(contender, _)| compare(*contender, 0));
        wishes.extend(centres.filter(|slot| !(aperture == 0 && self.is_control_take(slot))));
        if (aperture, take) == (0, 0) && !matches!(self.question.control, super::bench::Control::Off) {
            wishes.push(self.control_slot(Role::End, 1));
        }
        for (contender, bracket) in &able {
            // The control at the end is one frame: it stands for the whole take.
            let end = aperture == 0 && take == 1 && *contender == control && self.reference().is_some();
            let sides = steps(bracket.count).into_iter().filter(|step| *step != 0 && !end);
            wishes.extend(sides.map(|step| compare(*contender, step)));
        }
    }

    /// A frame of the control.
    pub fn control_slot(&self, role: Role, take: usize) -> Slot {
        Slot { role, contender: self.control(), aperture: 0, take, step: 0 }
    }

    /// Whether the first frame or the control at the end is this very take.
    fn is_control_take(&self, slot: &Slot) -> bool {
        let first = slot.take == 0 && slot.contender == self.control();
        first || (slot.take == 1 && Some(slot.contender) == self.reference())
    }

    /// With so many frames at least there is a control at the end; `None` when none is wanted.
    pub fn frames_for_control(&self) -> Option<usize> {
        let wishes = self.wishes(usize::MAX);
        wishes.iter().position(|slot| slot.role == Role::End).map(|place| place + 1)
    }
}
