//! Every stack that could serve, in plain figures, for whoever weighs them against each other.
//!
//! At one magnification what a stack does to light, room and glass depends on its head and on what stands behind the
//! converter, not on how the rest of the length is made up. So one stack stands for all of a group that reach the same
//! with one head: the one of fewest parts. A stack that falls short is surveyed at its largest magnification, for the
//! print may be cropped.

use crate::part::Kit;
use crate::reach::{Demand, Field, Place, ReachedSetup, check};
use crate::setup_error::SetupError;
use crate::solve::{Behind, Prepared, Stack};

/// One stack's figures at the magnification at which it would be used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surveyed {
    /// Where to find it again, for [`Survey::setup`].
    pub place: Spot,
    /// Size on film over size of the subject.
    pub magnification: f64,
    /// Light lost against the engraved f-number, stops.
    pub stops: f64,
    /// From the front to the subject, mm.
    pub working_distance_mm: f64,
    /// Lenses added to the one nearest the body.
    pub glass_added: usize,
    /// Widest and smallest engraved f-number that can be set; one and the same where the iris stays open.
    pub f_numbers: [f64; 2],
    /// The magnification at which the lens itself works over the largest that it reaches by itself; 1 within its own
    /// close range, and where nothing tells that range.
    pub past_close_range: f64,
    /// How many things keep it from being worked as usual.
    pub obstacles: usize,
    /// What light goes through: at one magnification stacks with the same differ in nothing but what makes up their length.
    pub optics: Optics,
}

/// Names what light goes through among the stacks of one [`Survey`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Optics {
    place: usize,
    head: usize,
    converter: bool,
}

/// Where a surveyed stack stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Spot {
    place: usize,
    head: usize,
    group: usize,
    class: usize,
}

/// A kit laid out for a survey.
pub struct Survey<'a> {
    field: Field<'a>,
}

/// The smallest stop of a lens that does not say (common practice, no source).
const SMALLEST_STOP: f64 = 32.0;

impl<'a> Survey<'a> {
    /// Lays out a kit within the limits of a demand; its magnification is left to [`Survey::each`].
    pub fn of(kit: &'a Kit, demand: &Demand) -> Result<Self, SetupError> {
        check(kit, demand)?;
        Ok(Self { field: Field::of(kit, demand)? })
    }

    /// Calls `visit` for every stack that reaches `wanted`, at that, and for every one that comes to `least` at the
    /// least, at its largest.
    pub fn each(&self, wanted: f64, least: f64, visit: &mut impl FnMut(Surveyed)) {
        self.field.each_body(&mut |place| survey(place, wanted, least, visit));
    }

    /// How many stacks there are, and the plain numbers that decide what each reaches, one line an item, for a check by
    /// other means: for each body and mount a line `place register`, its heads (`head a b c d nose touch travel f
    /// glass` and then b, d and radius of each aperture), and its classes (`class` and then the matrix behind at the
    /// shortest and the longest rear length, front length, front slack, converter, parts).
    pub fn numbers(&self) -> (u64, String) {
        use std::fmt::Write as _;
        let (mut text, mut count) = (String::new(), 0u64);
        self.field.each_body(&mut |place| {
            let _ = writeln!(text, "place {:?}", place.register);
            for head in &place.heads {
                let (m, o) = (head.far.matrix, head.far);
                let own = [m.a, m.b, m.c, m.d, o.nose, o.touch, head.travel, head.f_number, head.glass as f64];
                let stops = head.stops.iter().flat_map(|(m, radius)| [m.b, m.d, *radius]);
                let line: Vec<String> = own.into_iter().chain(stops).map(|n| format!("{n:?}")).collect();
                let _ = writeln!(text, "head {} {}", head.obstacles, line.join(" "));
            }
            for group in &place.groups {
                count += (group.classes.len() * place.heads.len()) as u64;
                let behind =
                    |rear| Behind::of(place.register, group.numbers.as_ref(), rear).map(|behind| behind.matrix());
                let (Some(p), Some(q)) = (behind(group.rear.min), behind(group.rear.max())) else { continue };
                for class in &group.classes {
                    let own = [p.a, p.b, q.a, q.b, class.front.min, class.front.slack, group.rear.slack];
                    let line: Vec<String> = own.iter().map(|n| format!("{n:?}")).collect();
                    let (converter, parts) = (u8::from(group.converter.is_some()), class.parts.len());
                    let _ = writeln!(text, "class {} {converter} {parts}", line.join(" "));
                }
            }
        });
        (count, text)
    }

    /// The set-up at a spot in full, set for a magnification.
    pub fn setup(&self, spot: Spot, magnification: f64) -> Option<ReachedSetup> {
        self.field.reached_at([spot.place, spot.head, spot.group, spot.class], magnification)
    }
}

fn survey(place: &Place<'_>, wanted: f64, least: f64, visit: &mut impl FnMut(Surveyed)) {
    for (g, group) in place.groups.iter().enumerate() {
        let Some(prepared) = Prepared::of(place.register, group) else { continue };
        for (h, head) in place.heads.iter().enumerate() {
            let spot = |class: usize| Spot { place: place.index(), head: h, group: g, class };
            let stack = |class: usize| Stack { register: place.register, group, class: &group.classes[class], head };
            let reaching = match prepared.reaching(place.register, head, wanted) {
                Some([Some(stretch), _]) => Some(prepared.indices(&stretch)),
                // Of an upright picture, as of whatever is no stretch, the first stack that serves will do.
                Some([None, None]) => None,
                Some([None, Some(_)]) | None => {
                    let first = (0..group.classes.len()).find(|&c| stack(c).setting(wanted).is_some());
                    first.map(|c| c..c + 1)
                }
            };
            let parts =
                |c: &usize| (usize::from(head.coupled && !group.classes[*c].linked), group.classes[*c].parts.len());
            let found = reaching.and_then(|range| range.min_by_key(parts)).map(|class| (class, wanted));
            // The longest that falls short is the one that falls short least.
            let found = found.or_else(|| {
                let short = (0..group.classes.len()).filter_map(|c| Some((c, stack(c).span()?.1)));
                let short = short.filter(|(_, most)| *most < wanted && *most >= least);
                short.max_by(|p, q| p.1.total_cmp(&q.1))
            });
            if let Some((class, magnification)) = found
                && let Some(figures) = figures(&stack(class), spot(class), magnification)
            {
                visit(figures);
            }
        }
    }
}

fn figures(stack: &Stack<'_, '_>, spot: Spot, magnification: f64) -> Option<Surveyed> {
    let setting = stack.setting(magnification)?;
    let stops = stack.stops(&setting)?;
    let head = stack.head;
    let lens = head.parts.iter().find(|part| part.kind() == crate::Kind::Lens)?;
    let open = head.coupled && !stack.class.linked;
    let widest = head.f_number;
    let smallest = if open { widest } else { lens.number("min_aperture").unwrap_or(SMALLEST_STOP).max(widest) };
    let own = stack.own_magnification(&setting, magnification)?;
    Some(Surveyed {
        place: spot,
        magnification,
        stops,
        working_distance_mm: stack.room_at(&setting)?,
        glass_added: head.glass + usize::from(stack.group.converter.is_some()),
        f_numbers: [widest, smallest],
        past_close_range: head.own_close_range().map_or(1.0, |closest| (own / closest).max(1.0)),
        obstacles: head.obstacles + usize::from(open),
        optics: Optics { place: spot.place, head: spot.head, converter: stack.group.converter.is_some() },
    })
}
