//! From the kit's train to traced glass.

use kit::{Facing, Focusing, Link, Part, Setup};
use rays::{CloseUp, CloseUpKind, Draw, Ideal, Prescription, SetUp, SetUpError};

use super::design::{Design, Designs, FIELD, OwnTableError};
use super::frame::LINE;
use crate::web::fmt;

/// Glass of neighbouring parts that would touch is kept this far apart, mm.
const LEAST_GAP_MM: f64 = 0.1;

/// What a close-up lens's glass is narrower than its thread, mm (common practice, no source).
const RIM_MM: f64 = 4.0;
/// A close-up lens without a thread size is taken to be as wide as this, mm.
const USUAL_CLOSE_UP_MM: f64 = 58.0;

/// Why a set-up cannot be put on the bench.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BenchError {
    /// The lens has no form.
    #[error(
        "no design form is chosen for lens \"{lens}\": rays need glass to go through; choose the form nearest to it on its sheet in the kit (“design form on the bench”; {FIELD} in a kit file), for example {example}"
    )]
    NoForm {
        /// The lens.
        lens: String,
        /// One that there is.
        example: &'static str,
    },
    /// There is no such form.
    #[error(
        "lens \"{lens}\" names the design form \"{found}\", which there is not; there are: {known}; one of your own goes into the kit as [[lens_table]]"
    )]
    UnknownForm {
        /// The lens.
        lens: String,
        /// As it was named.
        found: String,
        /// All that there are.
        known: String,
    },
    /// A table of one's own that cannot stand for a lens.
    #[error("lens table \"{id}\": {why}")]
    OwnTable {
        /// Which.
        id: String,
        /// Why.
        why: OwnTableError,
    },
    /// A lens that is not there.
    #[error("there is no lens \"{lens}\" in the kit; there are: {known}")]
    NoSuchLens {
        /// As asked for.
        lens: String,
        /// All that there are.
        known: String,
    },
    /// A part of which nothing but the best case can be traced.
    #[error(
        "of converter \"{id}\" only the power is known, no design: rays through it tell the best case, which is no prediction; the bench shows it"
    )]
    BestCase {
        /// Which.
        id: String,
    },
    /// The set-up itself.
    #[error("{0}")]
    SetUp(#[from] kit::SetupError),
    /// A form cannot be scaled like that.
    #[error("\"{id}\" cannot be made of glass: {why}")]
    Glass {
        /// The part.
        id: String,
        /// Why.
        why: String,
    },
    /// The train of glass cannot be traced.
    #[error("the set-up cannot be traced: {0}")]
    Train(#[from] SetUpError),
    /// Light does not get there.
    #[error("the set-up cannot be traced: {0}")]
    Light(#[from] rays::AimError),
    /// The film's colours.
    #[error("{0}")]
    Colours(String),
    /// A subject that is nowhere near.
    #[error(
        "a frame is predicted of a subject that is near, and this set-up is sharp at infinity: add extension or a close-up lens"
    )]
    Far,
    /// The frame cannot be drawn or written.
    #[error("the frame cannot be drawn: {0}")]
    Undrawn(String),
    /// Too few other forms can be traced in the place of the chosen one.
    #[error(
        "only {usable} of the forms that look like the lens's can be traced in this set-up, and {least} are needed to tell how far a form may be from a lens: stop down, or choose another form"
    )]
    NoScatter {
        /// How many could be.
        usable: usize,
        /// How many are needed.
        least: usize,
    },
    /// The frame cannot be drawn.
    #[error("the frame cannot be drawn: {0}")]
    Frame(#[from] scene::PointSpreadError),
}

/// The set-up with glass in it, at its own f-number, and what stands for the lens nearest the body.
pub fn stand_in(setup: &Setup<'_>) -> Result<(SetUp, Design), BenchError> {
    let designs = Designs::of(setup);
    Ok((stand_in_of(setup, &|lens| designs.of_lens(lens))?, designs.of_lens(setup.lens())?))
}

/// What stands for a lens.
pub(super) type Choose<'a> = &'a dyn Fn(&Part) -> Result<Design, BenchError>;

/// The same with other forms than the kit says.
pub(super) fn stand_in_of(setup: &Setup<'_>, choose: Choose<'_>) -> Result<SetUp, BenchError> {
    let (spec, layout) = (setup.numbers(), setup.layout()?);
    let (mut parts, mut ideals) = (Vec::new(), Vec::new());
    for (link, (kind, choice)) in spec.links.iter().zip(&setup.choices()[1..]).enumerate() {
        let Some(part) = choice.part() else { continue };
        let element = layout.element_of.iter().position(|of| *of == link).map(|at| layout.train.elements[at]);
        // What is hollow has no element in the train.
        let Some(element) = element else { continue };
        if let Link::Converter(_) = kind {
            ideals.push(Ideal { power_per_mm: element.power, before_film_mm: element.back });
            continue;
        }
        let Some(lens) = glass_of(kind, part, element.power, parts.is_empty(), choose)? else { continue };
        parts.push(Placed { lens, front: element.front, back: element.back });
    }
    let Some(main) = parts.first() else { return Err(no_lens(setup)) };
    let reversed = setup.hold().facing == Facing::Reversed;
    let mut in_front = Vec::new();
    for pair in parts.windows(2).rev() {
        let (nearer_film, nearer_subject) = (&pair[0], &pair[1]);
        let gap_after_mm = (nearer_subject.last()? - nearer_film.first()?).max(LEAST_GAP_MM);
        in_front.push(rays::Part { lens: nearer_subject.lens.clone(), gap_after_mm });
    }
    // From the film outwards as parts go; rays go the other way.
    ideals.reverse();
    let draw = Draw::ToFilm { mm: main.last()? };
    let upright = if reversed { main.lens.reversed() } else { main.lens.clone() };
    Ok(SetUp { lens: upright, f_number: spec.f_number, reversed, in_front, behind: Vec::new(), ideals, draw })
}

/// What is to be known of a set-up whose lens focuses by moving glass inside and is not at infinity: its focal length there, mm, by
/// the kit's own figures.
pub fn inside(setup: &Setup<'_>) -> Option<f64> {
    let (spec, layout) = (setup.numbers(), setup.layout().ok()?);
    let (at, link) = spec.first_lens()?;
    let element = layout.element_of.iter().position(|of| *of == at).map(|i| layout.train.elements[i])?;
    let moved = (element.power * link.lens.focal_length - 1.0).abs() > SAME_FOCAL_LENGTH;
    (link.lens.focusing == Focusing::Internal && moved).then(|| element.power.recip())
}

/// The same in words.
pub fn inside_words(setup: &Setup<'_>) -> Option<String> {
    let mm = fmt::figure(inside(setup)?, 3);
    Some(format!(
        "{} focuses by moving glass inside, which no table here tells: its design is made as large as its focal length there, {mm} mm, so that size, light and what attachments do are right and its own sharpness is a guess",
        setup.lens().name()
    ))
}

/// Focal lengths that differ by less are one.
const SAME_FOCAL_LENGTH: f64 = 1e-9;

fn no_lens(setup: &Setup<'_>) -> BenchError {
    BenchError::NoForm { lens: setup.lens().id().into(), example: rays::FORMS[0].key }
}

/// Glass as light meets it, and where its principal planes stand, mm in front of the film.
struct Placed {
    lens: Prescription,
    front: f64,
    back: f64,
}

impl Placed {
    fn cardinal(&self) -> Result<rays::Cardinal, BenchError> {
        Ok(self.lens.at(LINE).cardinal().ok_or(SetUpError::Afocal)?)
    }

    /// The glass nearest the film, mm in front of it.
    fn last(&self) -> Result<f64, BenchError> {
        Ok(self.back + self.cardinal()?.rear_principal_mm)
    }

    /// The glass nearest the subject, mm in front of the film: as far from the principal plane on that side as in the form.
    fn first(&self) -> Result<f64, BenchError> {
        Ok(self.front + self.cardinal()?.front_principal_mm)
    }
}

/// The glass of a part of that power, 1/mm, the way round it stands; `None` for what is hollow or of which no glass is known. Only the lens nearest the body, the first with glass,
/// has its iris set: any other stands wide open.
fn glass_of(
    link: &Link<f64>,
    part: &Part,
    power: f64,
    first: bool,
    choose: Choose<'_>,
) -> Result<Option<Prescription>, BenchError> {
    match link {
        Link::Gap(_) | Link::Converter(_) => Ok(None),
        Link::CloseUp(close_up) => close_up_glass(part, close_up.power).map(Some),
        Link::Lens(lens) => {
            // Where glass moves inside, the lens is another one at every focus: of its focal length there.
            let glass = choose(part)?.scaled_to(power.recip()).map_err(|why| unmade(part, &why))?;
            let glass = if first { glass } else { glass.opened_to(lens.widest, LINE)? };
            Ok(Some(if lens.facing == Facing::Reversed { glass.reversed() } else { glass }))
        }
    }
}

fn unmade(part: &Part, why: &dyn std::fmt::Display) -> BenchError {
    BenchError::Glass { id: part.id().into(), why: why.to_string() }
}

fn close_up_glass(part: &Part, power_dpt: f64) -> Result<Prescription, BenchError> {
    let thread = part.number("thread_mm").map(|thread| thread - RIM_MM);
    let diameter_mm = part.number("clear_mm").or(thread).unwrap_or(USUAL_CLOSE_UP_MM);
    let kind = if part.words("make") == Some("achromat") { CloseUpKind::Achromat } else { CloseUpKind::Meniscus };
    CloseUp { power_dpt, diameter_mm, kind }.prescription().map_err(|why| unmade(part, &why))
}

#[cfg(test)]
mod tests {
    use super::*;
    use kit::{Kit, SetupRequest};
    use optics::Figure;
    use testkit::assert_close;

    fn kit() -> Kit {
        Kit::parse(crate::demo::KIT).expect("the example's kit")
    }

    fn request(parts: &[&str], focus: &str) -> SetupRequest {
        let parts = parts.iter().map(|part| (*part).to_owned()).collect();
        SetupRequest { parts, focus: focus.parse().expect("a focus"), f_number: Some(11.0), coc_mm: None }
    }

    /// Glass traced to first order against the kit's own train of black boxes.
    #[test]
    fn size_and_light_are_those_of_the_kit() {
        let kit = kit();
        let set_ups: [(&[&str], &str); 9] = [
            (&["copy-stand-6x6", "converter-14", "tube-26", "normal-85"], "travel=5"),
            (&["copy-stand-6x6", "converter-14", "long-160", "plus-4"], "infinity"),
            (&["copy-stand-6x6", "tube-26", "tube-52", "normal-85"], "travel=5"),
            (&["copy-stand-6x6", "bellows=157", "long-160"], "infinity"),
            (&["copy-stand-6x6", "tube-52", "bellows=69", "reverse-62", "normal-85"], "infinity"),
            (&["copy-stand-6x6", "long-160", "plus-4"], "infinity"),
            (&["copy-stand-6x6", "tube-26", "normal-85", "plus-2"], "travel=5"),
            (&["copy-stand-6x6", "tube-26", "long-160", "plus-2", "plus-4"], "closest"),
            (&["copy-stand-6x6", "long-160", "couple-62", "normal-85"], "infinity"),
        ];
        for (parts, focus) in set_ups {
            let setup = Setup::resolve(&kit, &request(parts, focus)).expect("a set-up");
            let figures = setup.report().expect("figures").figures;
            let told = |figure| figures.get(figure).expect("told").value;
            let system = stand_in(&setup).expect("glass").0.system(LINE).expect("a system");
            let size = system.magnification(LINE).expect("near");
            assert_close!(size, told(Figure::Magnification), relative = 0.004, "{parts:?}");
            assert_close!(
                system.first_order(LINE).f_number,
                told(Figure::EffectiveFNumber),
                relative = 0.03,
                "{parts:?}"
            );
        }
    }

    #[test]
    fn what_has_no_glass_is_refused_by_name() {
        let bare = crate::demo::KIT.replace("design_form", "notes_of_form").replace("notes_of_form", "# design_form");
        let kit = Kit::parse(&bare).expect("a kit");
        let setup = Setup::resolve(&kit, &request(&["copy-stand-6x6", "tube-26", "normal-85"], "infinity"));
        let why = stand_in(&setup.expect("a set-up")).expect_err("no form").to_string();
        assert!(why.contains("no design form is chosen for lens \"normal-85\""), "{why}");
        let odd = crate::demo::KIT.replace("double-gauss-1954", "double-gaus");
        let kit = Kit::parse(&odd).expect("a kit");
        let setup = Setup::resolve(&kit, &request(&["copy-stand-6x6", "tube-26", "normal-85"], "infinity"));
        let why = stand_in(&setup.expect("a set-up")).expect_err("no such form").to_string();
        assert!(why.contains("\"double-gaus\"") && why.contains("double-gauss-1954"), "{why}");
    }
}
