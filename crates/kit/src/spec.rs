//! A set-up with nothing implicit, and the train that it makes.

use optics::{
    BlackBox, CloseRangeError, Element, Figures, FocusError, Real, Train, magnification_at_distance,
    separation_from_marks,
};

/// Everything that a set-up's figures depend on, each once. `Q` is an input with its uncertainty, or a number.
#[derive(Debug, Clone, PartialEq)]
pub struct Spec<Q> {
    /// Width and height of the image on film, mm.
    pub frame: [Q; 2],
    /// The body's mount face to film, mm.
    pub register: Q,
    /// Lengths of tubes and draws of bellows, mm.
    pub spacers: Vec<Q>,
    /// Which way round the lens is held.
    pub mounting: Mounting<Q>,
    /// The lens.
    pub lens: LensSpec<Q>,
    /// Close-up lenses, from the rim outwards.
    pub close_ups: Vec<CloseUp<Q>>,
    /// The engraved f-number in use.
    pub f_number: Q,
    /// Where the lens is focused.
    pub focus: FocusSpec<Q>,
}

/// Which way round a lens is held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Mounting<Q> {
    /// By its mount.
    Normal,
    /// By its front thread, on a ring this thick, mm.
    Reversed(Q),
}

/// A close-up lens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CloseUp<Q> {
    /// Power in dioptres.
    pub power: Q,
    /// From the rim that it is screwed into, or from the close-up lens before it, mm.
    pub gap: Q,
}

/// A lens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LensSpec<Q> {
    /// mm.
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
}

impl<Q> Spec<Q> {
    /// The same set-up with every quantity put through `f`, always in the same order.
    pub fn map<R>(&self, f: &mut impl FnMut(&Q) -> R) -> Spec<R> {
        Spec {
            frame: [f(&self.frame[0]), f(&self.frame[1])],
            register: f(&self.register),
            spacers: self.spacers.iter().map(&mut *f).collect(),
            mounting: match &self.mounting {
                Mounting::Normal => Mounting::Normal,
                Mounting::Reversed(ring) => Mounting::Reversed(f(ring)),
            },
            lens: self.lens.map(f),
            close_ups: self.close_ups.iter().map(|c| CloseUp { power: f(&c.power), gap: f(&c.gap) }).collect(),
            f_number: f(&self.f_number),
            focus: match &self.focus {
                FocusSpec::Infinity => FocusSpec::Infinity,
                FocusSpec::Closest => FocusSpec::Closest,
                FocusSpec::Travel(travel) => FocusSpec::Travel(f(travel)),
            },
        }
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
            },
        }
    }
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
            CloseRange::Magnification(m) => Ok(Some(m)),
            CloseRange::Distance(distance) => {
                magnification_at_distance(distance, self.focal_length, self.separation()).map(Some)
            }
        }
    }

    /// Travel from the infinity mark to the closest, mm: f·m, `None` when nothing is known of it.
    pub fn largest_travel(&self) -> Result<Option<T>, CloseRangeError> {
        Ok(self.closest_magnification()?.map(|m| self.focal_length * m))
    }
}

impl<T: Real> Spec<T> {
    /// Travel of the lens, mm; at an unknown closest mark it is zero (resolving refuses that focus).
    pub fn travel(&self) -> Result<T, CloseRangeError> {
        Ok(match self.focus {
            FocusSpec::Infinity => T::exact(0.0),
            FocusSpec::Closest => self.lens.largest_travel()?.unwrap_or(T::exact(0.0)),
            FocusSpec::Travel(travel) => travel,
        })
    }

    /// Tubes, bellows draws and travel together, mm.
    pub fn extension(&self, travel: T) -> T {
        self.spacers.iter().fold(travel, |sum, length| sum + *length)
    }

    /// The train that the parts make.
    pub fn train(&self, travel: T) -> Train<T> {
        let lens = BlackBox {
            focal_length: self.lens.focal_length,
            separation: self.lens.separation(),
            pupil_ratio: self.lens.pupil_ratio,
            f_number: self.f_number,
            length: self.lens.length,
            register: self.lens.register.unwrap_or(self.register),
        };
        let seat = self.extension(self.register);
        let placed = match self.mounting {
            Mounting::Normal => lens.seated(seat, travel, 0),
            Mounting::Reversed(ring) => lens.reversed(seat + ring, travel, 0),
        };
        let mut train = Train { elements: vec![placed.element], stops: vec![placed.stop], front: placed.front };
        for close_up in &self.close_ups {
            train.front = train.front + close_up.gap;
            let power = close_up.power / T::exact(1000.0);
            train.elements.push(Element { power, front: train.front, back: train.front });
        }
        train
    }

    /// Every figure of the set-up; `blur` is the largest disc on film that still counts as sharp, mm.
    pub fn figures(&self, blur: f64) -> Result<Figures<T>, SpecError> {
        let travel = self.travel()?;
        let train = self.train(travel);
        Ok(train.figures(self.frame, self.f_number, T::exact(blur), self.extension(travel))?)
    }
}

/// Why a spec has no figures.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SpecError {
    /// The close-focus mark contradicts the focal length.
    #[error("{0}")]
    CloseRange(#[from] CloseRangeError),
    /// Nothing real is sharp.
    #[error("{0}")]
    Focus(#[from] FocusError),
}
