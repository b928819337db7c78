//! What a person does to a plan: move, take off, repeat, add.

use planning::test_roll::{Layout, Role, Slot, Test};

use crate::web::form::Filled;

/// A place in a layout: roll and place on it.
pub type Spot = (usize, usize);

/// Does what a button or a drag asks for. Gives the place of the frame concerned; `None` when there is nothing to do it to.
///
/// `up.0.3`, `down.0.3`, `off.0.3`, `repeat.0.3`, `move.0.3.1.0` (from roll 0, place 3 to roll 1 before place 0), and `add`
/// with fields of its own.
pub fn apply(what: &str, layout: &mut Layout, shot: &[Slot], test: &Test, filled: &Filled) -> Option<Spot> {
    let mut words = what.split('.');
    let verb = words.next()?;
    let numbers: Vec<usize> = words.map(|word| word.parse().ok()).collect::<Option<_>>()?;
    match (verb, &numbers[..]) {
        ("add", []) => add(layout, shot, test, filled),
        ("up", &[roll, place]) => up(layout, (roll, place)),
        ("down", &[roll, place]) => down(layout, (roll, place)),
        ("off", &[roll, place]) => {
            taken(layout, (roll, place))?;
            Some((roll, place.saturating_sub(1)))
        }
        ("repeat", &[roll, place]) => {
            let slot = *layout.get(roll)?.get(place)?;
            let all: Vec<Slot> = layout.iter().flatten().chain(shot).copied().collect();
            layout[roll].insert(place + 1, test.repeated(&slot, &all));
            Some((roll, place + 1))
        }
        ("move", &[roll, place, to, before]) => moved(layout, (roll, place), (to, before)),
        _ => None,
    }
}

fn taken(layout: &mut Layout, (roll, place): Spot) -> Option<Slot> {
    let frames = layout.get_mut(roll)?;
    (place < frames.len()).then(|| frames.remove(place))
}

fn up(layout: &mut Layout, (roll, place): Spot) -> Option<Spot> {
    if place > 0 {
        return moved(layout, (roll, place), (roll, place - 1));
    }
    let above = roll.checked_sub(1)?;
    let end = layout.get(above)?.len();
    moved(layout, (roll, place), (above, end))
}

fn down(layout: &mut Layout, (roll, place): Spot) -> Option<Spot> {
    if place + 1 < layout.get(roll)?.len() {
        return moved(layout, (roll, place), (roll, place + 2));
    }
    layout.get(roll + 1)?;
    moved(layout, (roll, place), (roll + 1, 0))
}

/// Moves a frame in front of another place; places count as they are before it is taken out.
fn moved(layout: &mut Layout, from: Spot, (roll, before): Spot) -> Option<Spot> {
    layout.get(roll)?;
    let slot = taken(layout, from)?;
    let shift = usize::from(from.0 == roll && from.1 < before);
    let place = (before - shift).min(layout[roll].len());
    layout[roll].insert(place, slot);
    Some((roll, place))
}

fn add(layout: &mut Layout, shot: &[Slot], test: &Test, filled: &Filled) -> Option<Spot> {
    let number = |name: &str| filled.text(name).parse::<usize>().ok();
    let (contender, aperture) = (number("add_setup")?, number("add_aperture")?);
    let step = filled.text("add_step").parse().unwrap_or(0);
    let role = if filled.text("add_for") == "own" { Role::Own } else { Role::Compare };
    let slot = Slot { role, contender, aperture, take: 0, step };
    if !test.knows(&slot) {
        return None;
    }
    let all: Vec<Slot> = layout.iter().flatten().chain(shot).copied().collect();
    let roll = number("add_roll").unwrap_or(0).min(layout.len().checked_sub(1)?);
    // Before the control that closes the roll.
    let frames = &mut layout[roll];
    let place = frames.len() - usize::from(frames.last().is_some_and(|last| last.role == Role::End));
    frames.insert(place, test.repeated(&slot, &all));
    Some((roll, place))
}
