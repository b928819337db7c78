//! A set-up with nothing implicit, and the train that it makes.

use crate::fit::Facing;
use optics::{
    BlackBox, CloseRangeError, Converter, ConverterError, Element, Figures, FocusError, Real, Stop, Train,
    focal_length_from_marks, magnification_at_distance, separation_from_marks,
};

/// Everything that a set-up's figures depend on, each once. `Q` is an input with its uncertainty, or a number.
#[derive(Debug, Clone, PartialEq)]
pub struct Spec<Q> {
    /// Width and height of the image on film, mm.
    pub frame: [Q; 2],
    /// The body's mount face to film, mm.
    pub register: Q,
    /// Clear diameter of the body's mount, mm.
    pub throat: Option<Q>,
    /// What stands in front of the mount face, from there outwards; one for each part named after the body.
    pub links: Vec<Link<Q>>,
    /// The engraved f-number in use, of the lens nearest the body.
    pub f_number: Q,
    /// Where the lens nearest the body is focused.
    pub focus: FocusSpec<Q>,
}

/// One part of the stack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Link<Q> {
    /// A length with nothing in it.
    Gap(Gap<Q>),
    /// A teleconverter.
    Converter(ConverterSpec<Q>),
    /// A photographic lens.
    Lens(LensLink<Q>),
    /// A close-up lens.
    CloseUp(CloseUp<Q>),
}

/// A length with nothing in it: a tube, a drawn bellows, an adapter, a ring, or free air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap<Q> {
    /// mm.
    pub length: Q,
    /// Clear diameter, mm, where it is known.
    pub clear: Option<Q>,
    /// Whether it counts as extension: tubes and bellows do.
    pub extends: bool,
}

/// A teleconverter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConverterSpec<Q> {
    /// Picture with it over picture without.
    pub factor: Q,
    /// Mount face to mount face, mm.
    pub length: Q,
    /// The register it was built for; `None` for the body's.
    pub register: Option<Q>,
    /// Clear diameter, mm, where it is known.
    pub clear: Option<Q>,
}

/// A lens and which way round it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LensLink<Q> {
    /// The lens.
    pub lens: LensSpec<Q>,
    /// Which way round.
    pub facing: Facing,
    /// Its widest f-number, at which a second lens stands.
    pub widest: Q,
}

/// A close-up lens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CloseUp<Q> {
    /// Power in dioptres.
    pub power: Q,
    /// From the rim that it is screwed into, or from the close-up lens before it, mm; nothing when it is held free.
    pub gap: Option<Q>,
    /// Clear diameter, mm, where it is known.
    pub clear: Option<Q>,
}

/// A lens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LensSpec<Q> {
    /// mm, at infinity.
    pub focal_length: Q,
    /// Exit over entrance pupil diameter.
    pub pupil_ratio: Q,
    /// Seat to rim at infinity, mm.
    pub length: Q,
    /// The register it was built for; `None` for the body's.
    pub register: Option<Q>,
    /// H to H'.
    pub separation: Separation<Q>,
    /// What is known of the closest mark.
    pub close_range: CloseRange<Q>,
    /// What moves when it is focused.
    pub focusing: Focusing,
}

/// What moves when a lens is focused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Focusing {
    /// The whole lens.
    Unit,
    /// Glass inside: the length stays, the focal length changes.
    Internal,
}

/// How the principal separation is known, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Separation<Q> {
    /// Stated, or assumed.
    Known(Q),
    /// Implied by this close-focus distance together with the magnification at the closest mark.
    FromMarks(Q),
}

/// How the closest mark is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CloseRange<Q> {
    /// Not at all.
    Unknown,
    /// By the magnification there.
    Magnification(Q),
    /// By the distance from subject to film there, mm.
    Distance(Q),
    /// By the travel there, as calibration found it, mm.
    Travel(Q),
    /// By both: together they tell the focal length that an internally focusing lens has there.
    Both {
        /// Subject to film, mm.
        distance: Q,
        /// Size on film over size of the subject.
        magnification: Q,
    },
}

/// Where the lens is focused.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FocusSpec<Q> {
    /// At its infinity mark.
    Infinity,
    /// At its closest mark.
    Closest,
    /// This far forward of its infinity mark, mm.
    Travel(Q),
    /// At this distance on its own scale: what subject to film would be without anything added, mm.
    Distance(Q),
}

impl<Q> Spec<Q> {
    /// The same set-up with every quantity put through `f`, always in the same order.
    pub fn map<R>(&self, f: &mut impl FnMut(&Q) -> R) -> Spec<R> {
        Spec {
            frame: [f(&self.frame[0]), f(&self.frame[1])],
            register: f(&self.register),
            throat: self.throat.as_ref().map(&mut *f),
            links: self.links.iter().map(|link| link.map(f)).collect(),
            f_number: f(&self.f_number),
            focus: match &self.focus {
                FocusSpec::Infinity => FocusSpec::Infinity,
                FocusSpec::Closest => FocusSpec::Closest,
                FocusSpec::Travel(travel) => FocusSpec::Travel(f(travel)),
                FocusSpec::Distance(distance) => FocusSpec::Distance(f(distance)),
            },
        }
    }

    /// The lens nearest the body, which carries focus and f-number: its place among the links, and itself.
    pub fn first_lens(&self) -> Option<(usize, &LensLink<Q>)> {
        self.links.iter().enumerate().find_map(|(index, link)| match link {
            Link::Lens(lens) => Some((index, lens)),
            _ => None,
        })
    }
}

impl<Q> Link<Q> {
    fn map<R>(&self, f: &mut impl FnMut(&Q) -> R) -> Link<R> {
        let mut all = |quantity: &Option<Q>| quantity.as_ref().map(&mut *f);
        match self {
            Self::Gap(gap) => {
                let clear = all(&gap.clear);
                Link::Gap(Gap { clear, length: f(&gap.length), extends: gap.extends })
            }
            Self::Converter(converter) => Link::Converter(converter.map(f)),
            Self::Lens(link) => {
                Link::Lens(LensLink { lens: link.lens.map(f), facing: link.facing, widest: f(&link.widest) })
            }
            Self::CloseUp(close_up) => {
                let (gap, clear) = (all(&close_up.gap), all(&close_up.clear));
                Link::CloseUp(CloseUp { gap, clear, power: f(&close_up.power) })
            }
        }
    }
}

impl<Q> ConverterSpec<Q> {
    /// The same converter with every quantity put through `f`.
    pub(crate) fn map<R>(&self, f: &mut impl FnMut(&Q) -> R) -> ConverterSpec<R> {
        let (factor, length) = (f(&self.factor), f(&self.length));
        let (register, clear) = (self.register.as_ref().map(&mut *f), self.clear.as_ref().map(&mut *f));
        ConverterSpec { factor, length, register, clear }
    }
}

impl<Q> LensSpec<Q> {
    /// The same lens with every quantity put through `f`.
    pub fn map<R>(&self, f: &mut impl FnMut(&Q) -> R) -> LensSpec<R> {
        LensSpec {
            focal_length: f(&self.focal_length),
            pupil_ratio: f(&self.pupil_ratio),
            length: f(&self.length),
            register: self.register.as_ref().map(&mut *f),
            separation: match &self.separation {
                Separation::Known(t) => Separation::Known(f(t)),
                Separation::FromMarks(distance) => Separation::FromMarks(f(distance)),
            },
            close_range: match &self.close_range {
                CloseRange::Unknown => CloseRange::Unknown,
                CloseRange::Magnification(m) => CloseRange::Magnification(f(m)),
                CloseRange::Distance(distance) => CloseRange::Distance(f(distance)),
                CloseRange::Travel(travel) => CloseRange::Travel(f(travel)),
                CloseRange::Both { distance, magnification } => {
                    CloseRange::Both { distance: f(distance), magnification: f(magnification) }
                }
            },
            focusing: self.focusing,
        }
    }
}

/// A lens at one setting of its focusing ring.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Focused<T> {
    /// Focal length there.
    focal_length: T,
    /// How far the glass has moved forward inside a barrel that keeps its length.
    inside: T,
    /// How far the whole lens has moved forward.
    travel: T,
}

impl<T: Real> LensSpec<T> {
    /// H to H', mm.
    pub fn separation(&self) -> T {
        match (&self.separation, &self.close_range) {
            (Separation::Known(t), _) => *t,
            (Separation::FromMarks(distance), CloseRange::Magnification(m)) => {
                separation_from_marks(*distance, self.focal_length, *m)
            }
            // Marks imply a separation only when both are there; resolving never makes another pair.
            (Separation::FromMarks(_), _) => T::exact(0.0),
        }
    }

    /// Magnification at the closest mark, `None` when nothing is known of it.
    pub fn closest_magnification(&self) -> Result<Option<T>, CloseRangeError> {
        match self.close_range {
            CloseRange::Unknown => Ok(None),
            CloseRange::Magnification(m) | CloseRange::Both { magnification: m, .. } => Ok(Some(m)),
            CloseRange::Distance(distance) => {
                magnification_at_distance(distance, self.focal_length, self.separation()).map(Some)
            }
            CloseRange::Travel(travel) => Ok(Some(travel / self.focal_length)),
        }
    }

    /// Travel from the infinity mark to the closest, mm: f·m, `None` when nothing is known of it. An internally
    /// focusing lens has none.
    pub fn largest_travel(&self) -> Result<Option<T>, CloseRangeError> {
        match self.focusing {
            Focusing::Unit => Ok(self.closest_magnification()?.map(|m| self.focal_length * m)),
            Focusing::Internal => Ok(Some(T::exact(0.0))),
        }
    }

    /// Focal length at the closest mark, which an internally focusing lens's two marks tell together.
    pub fn closest_focal_length(&self) -> Option<T> {
        match (self.focusing, self.close_range) {
            (Focusing::Unit, _) => Some(self.focal_length),
            (Focusing::Internal, CloseRange::Both { distance, magnification }) => {
                Some(focal_length_from_marks(distance, magnification, self.separation()))
            }
            (Focusing::Internal, _) => None,
        }
    }

    fn focused(&self, focus: &FocusSpec<T>) -> Result<Focused<T>, CloseRangeError> {
        let zero = T::exact(0.0);
        let at_infinity = Focused { focal_length: self.focal_length, inside: zero, travel: zero };
        let travelled = |travel| Focused { travel, ..at_infinity };
        Ok(match (self.focusing, *focus) {
            (_, FocusSpec::Infinity) => at_infinity,
            (Focusing::Unit, FocusSpec::Travel(travel)) => travelled(travel),
            (Focusing::Unit, FocusSpec::Closest) => travelled(self.largest_travel()?.unwrap_or(zero)),
            (Focusing::Unit, FocusSpec::Distance(distance)) => travelled(
                self.focal_length * magnification_at_distance(distance, self.focal_length, self.separation())?,
            ),
            // There is no travel to set; resolving refuses that focus.
            (Focusing::Internal, FocusSpec::Travel(_)) => at_infinity,
            (Focusing::Internal, FocusSpec::Closest) => match self.close_range {
                CloseRange::Both { magnification, .. } => self.focused_inside(magnification),
                _ => at_infinity,
            },
            (Focusing::Internal, FocusSpec::Distance(distance)) => match self.close_range {
                CloseRange::Both { .. } => self.focused_inside(self.inside_magnification(distance)?),
                _ => at_infinity,
            },
        })
    }

    /// An internally focusing lens that shows subjects at magnification `m` by itself. Between its two ends the focal
    /// length is taken to change evenly with the magnification: the maker's cam is not known (an interpolation, said
    /// where used).
    fn focused_inside(&self, m: T) -> Focused<T> {
        let focal_length = match (self.closest_focal_length(), self.close_range) {
            (Some(closest), CloseRange::Both { magnification, .. }) => {
                self.focal_length + (closest - self.focal_length) * m / magnification
            }
            _ => self.focal_length,
        };
        Focused { focal_length, inside: focal_length * m, travel: T::exact(0.0) }
    }

    /// Subject to film of an internally focusing lens by itself at magnification `m`.
    fn inside_distance(&self, m: T) -> T {
        let sum = T::exact(2.0) + m + T::exact(1.0) / m;
        self.focused_inside(m).focal_length * sum + self.separation()
    }

    /// What the scale of an internally focusing lens reads at magnification `m` by itself, mm.
    pub(crate) fn inside_distance_at(&self, m: f64) -> T {
        self.inside_distance(T::exact(m))
    }

    /// How much of an internally focusing lens's way to its closest mark, by magnification, brings the subject nearer
    /// all the while: all of it, but for marks that imply that the distance grows again.
    pub(crate) fn share_told(&self) -> f64 {
        const STEPS: usize = 64;
        let CloseRange::Both { magnification, .. } = self.close_range else { return 1.0 };
        let distance =
            |step: usize| self.inside_distance_at(magnification.value() * step as f64 / STEPS as f64).value();
        let turn = (1..STEPS).find(|step| distance(step + 1) >= distance(*step));
        turn.map_or(1.0, |step| step as f64 / STEPS as f64)
    }

    /// The magnification at which an internally focusing lens by itself is focused at `distance`: bisection on plain
    /// numbers, then one step of Newton in the scalar itself, whose derivative is that of the implicit function.
    ///
    /// A scale is set with some doubt, so that a little beyond the closest mark counts as a figure too: otherwise
    /// nothing could be said of how sure the figures at the mark are.
    fn inside_magnification(&self, distance: T) -> Result<T, CloseRangeError> {
        let CloseRange::Both { magnification, distance: closest } = self.close_range else { return Ok(T::exact(0.0)) };
        let value = |m: f64| self.inside_distance(T::exact(m)).value() - distance.value();
        let nearest = magnification.value();
        let too_near = || CloseRangeError { distance_mm: distance.value(), least_mm: closest.value() };
        // Up to where the scale runs back again, or half as large again as at the closest mark.
        let mut near = self.share_told() * nearest;
        let rising = |m: f64| value(m * 1.001) >= value(m);
        while near < BEYOND_CLOSEST * nearest && !rising(near * 1.02) && value(near) > 0.0 {
            near *= 1.02;
        }
        // The last part in 10⁹ is rounding.
        if value(near).is_nan() || value(near) > 1e-9 * distance.value() {
            return Err(too_near());
        }
        let mut far = 1e-9;
        for _ in 0..80 {
            let middle = 0.5 * (near + far);
            if value(middle) < 0.0 { near = middle } else { far = middle }
        }
        let m = 0.5 * (near + far);
        let step = 1e-6 * m;
        let slope = (value(m + step) - value(m - step)) / (2.0 * step);
        Ok(T::exact(m) - (self.inside_distance(T::exact(m)) - distance) / T::exact(slope))
    }
}

/// How much larger than at its closest mark a picture is still computed, so that doubt about the scale does not end
/// there.
const BEYOND_CLOSEST: f64 = 1.5;

/// A set-up with everything in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout<T> {
    /// Elements and apertures.
    pub train: Train<T>,
    /// Which link each aperture belongs to; `None` for the body's mount.
    pub stop_of: Vec<Option<usize>>,
    /// Which link each element belongs to.
    pub element_of: Vec<usize>,
    /// Where each link begins and ends, mm in front of the film. The focusing travel of a lens is part of it.
    pub spans: Vec<[T; 2]>,
    /// Travel of the lens nearest the body, mm.
    pub travel: T,
    /// Tubes, bellows draws and travel together, mm.
    pub extension: T,
}

/// Grows a train from the film outwards.
struct Builder<T> {
    layout: Layout<T>,
    /// Where the stack ends so far, mm in front of the film.
    at: T,
    register: T,
    /// The link that is being placed.
    link: usize,
}

impl<T: Real> Builder<T> {
    fn aperture(&mut self, clear: Option<T>, position: T, owner: Option<usize>) {
        if let Some(diameter) = clear {
            self.layout.train.stops.push(Stop { element: self.layout.train.elements.len(), position, diameter });
            self.layout.stop_of.push(owner);
        }
    }

    fn element(&mut self, element: Element<T>) {
        self.layout.train.elements.push(element);
        self.layout.element_of.push(self.link);
    }

    fn gap(&mut self, gap: &Gap<T>) {
        // A tube cuts at both of its ends; which of them first depends on the cone.
        self.aperture(gap.clear, self.at, Some(self.link));
        self.at = self.at + gap.length;
        self.aperture(gap.clear, self.at, Some(self.link));
        if gap.extends {
            self.layout.extension = self.layout.extension + gap.length;
        }
    }

    fn converter(&mut self, spec: &ConverterSpec<T>) -> Result<(), SpecError> {
        let register = spec.register.unwrap_or(self.register);
        let converter = Converter { factor: spec.factor, length: spec.length, register };
        let link = self.link;
        self.aperture(spec.clear, self.at, Some(link));
        let element = converter.seated(self.at).map_err(|source| SpecError::Converter { link, source })?;
        self.element(element);
        self.at = self.at + spec.length;
        self.aperture(spec.clear, self.at, Some(link));
        Ok(())
    }

    fn lens(&mut self, link: &LensLink<T>, f_number: T, focus: &FocusSpec<T>, first: bool) -> Result<(), SpecError> {
        let (lens, index) = (&link.lens, self.link);
        let focused = lens.focused(focus).map_err(|source| SpecError::CloseRange { link: index, source })?;
        let black_box = BlackBox {
            focal_length: focused.focal_length,
            separation: lens.separation(),
            pupil_ratio: lens.pupil_ratio,
            f_number,
            length: lens.length,
            // Glass that moves forward inside a barrel stands as in a lens built for so much shorter a register.
            register: lens.register.unwrap_or(self.register) - focused.inside,
        };
        let element = self.layout.train.elements.len();
        let placed = match link.facing {
            Facing::Normal => black_box.seated(self.at, focused.travel, element),
            Facing::Reversed => {
                // Rim to H is seat to rim plus seat to H', which both grow with the register, so the glass inside
                // counts once.
                black_box.reversed(self.at, focused.travel, element)
            }
        };
        self.element(placed.element);
        self.layout.train.stops.push(placed.stop);
        self.layout.stop_of.push(Some(index));
        self.at = placed.front;
        if first {
            self.layout.travel = focused.travel;
            self.layout.extension = self.layout.extension + focused.travel;
        }
        Ok(())
    }

    fn close_up(&mut self, close_up: &CloseUp<T>) {
        if let Some(gap) = close_up.gap {
            self.at = self.at + gap;
        }
        self.aperture(close_up.clear, self.at, Some(self.link));
        let power = close_up.power / T::exact(1000.0);
        self.element(Element { power, front: self.at, back: self.at });
    }
}

impl<T: Real> Spec<T> {
    /// Everything in its place.
    pub fn layout(&self) -> Result<Layout<T>, SpecError> {
        let zero = T::exact(0.0);
        let count = self.links.len();
        let train = Train { elements: Vec::with_capacity(count), stops: Vec::with_capacity(count + 1), front: zero };
        let layout = Layout {
            train,
            stop_of: Vec::with_capacity(count + 1),
            element_of: Vec::with_capacity(count),
            spans: Vec::with_capacity(count),
            travel: zero,
            extension: zero,
        };
        let mut builder = Builder { layout, at: self.register, register: self.register, link: 0 };
        builder.aperture(self.throat, self.register, None);
        let mut first = true;
        for (index, link) in self.links.iter().enumerate() {
            let from = builder.at;
            builder.link = index;
            match link {
                Link::Gap(gap) => builder.gap(gap),
                Link::Converter(converter) => builder.converter(converter)?,
                Link::Lens(lens) if first => {
                    builder.lens(lens, self.f_number, &self.focus, true)?;
                    first = false;
                }
                Link::Lens(lens) => builder.lens(lens, lens.widest, &FocusSpec::Infinity, false)?,
                Link::CloseUp(close_up) => builder.close_up(close_up),
            }
            builder.layout.spans.push([from, builder.at]);
        }
        builder.layout.train.front = builder.at;
        Ok(builder.layout)
    }

    /// Every figure of the set-up; `blur` is the largest disc on film that still counts as sharp, mm.
    pub fn figures(&self, blur: f64) -> Result<Figures<T>, SpecError> {
        let layout = self.layout()?;
        Ok(layout.train.figures(self.frame, self.f_number, T::exact(blur), layout.extension)?)
    }

    /// The same set-up with `more` mm of extension behind the lens nearest the body.
    pub fn extended(&self, more: T) -> Self {
        self.spaced(more, true)
    }

    fn spaced(&self, more: T, extends: bool) -> Self {
        let mut longer = self.clone();
        let place = self.first_lens().map_or(0, |(index, _)| index);
        longer.links.insert(place, Link::Gap(Gap { length: more, clear: None, extends }));
        longer
    }
}

impl Spec<f64> {
    /// How many millimetres the lens sits nearer to the film than for an infinitely far subject; `None` where it does not. The
    /// magnification is a straight line in the extension, so two points of it tell.
    pub fn short_of_infinity_mm(&self) -> Option<f64> {
        let inverted = |spec: &Self| spec.layout().ok()?.train.inverted_magnification();
        let (here, a_millimetre_on) = (inverted(self)?, inverted(&self.extended(1.0))?);
        let missing = -here / (a_millimetre_on - here);
        (here < 0.0 && missing > 0.0 && missing.is_finite()).then_some(missing)
    }

    /// The figures of one possible kit among those that the doubts allow. In some of them a lens that stands at infinity would stand
    /// beyond it, where there is no subject; whoever has that lens has it adjusted, so that it stands at infinity there, too.
    pub(crate) fn possible_figures(&self, coc: f64) -> Result<Figures<f64>, SpecError> {
        self.figures(coc).or_else(|why| {
            let missing = self.short_of_infinity_mm().ok_or(why)?;
            self.spaced(missing, false).figures(coc)
        })
    }
}

/// Why a spec has no figures.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SpecError {
    /// The close-focus mark contradicts the focal length.
    #[error("{source}")]
    CloseRange {
        /// The lens's place among the links.
        link: usize,
        /// Why.
        source: CloseRangeError,
    },
    /// No such converter can be.
    #[error("{source}")]
    Converter {
        /// The converter's place among the links.
        link: usize,
        /// Why.
        source: ConverterError,
    },
    /// Nothing real is sharp.
    #[error("{0}")]
    Focus(#[from] FocusError),
}
