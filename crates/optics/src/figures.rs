//! The registry of what a set-up's computation yields.

use crate::Real;

/// One figure of a set-up. Each is declared here once, with its unit and its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Figure {
    /// Size on film over size of the subject.
    Magnification,
    /// Width of the subject plane that the frame covers.
    FieldWidth,
    /// Height of the subject plane that the frame covers.
    FieldHeight,
    /// Subject to film along the axis.
    SubjectToFilm,
    /// Subject to the part of the set-up that faces it.
    WorkingDistance,
    /// Tubes, bellows draw and travel together.
    Extension,
    /// F-number of the cone at the film.
    EffectiveFNumber,
    /// Light lost against the engraved f-number.
    ExposureStops,
    /// Depth of field in all.
    DepthOfField,
    /// Depth of field in front of the plane of focus.
    DepthNear,
    /// Depth of field behind the plane of focus.
    DepthFar,
    /// Diameter of the Airy disc on film.
    AiryDiameter,
}

impl Figure {
    /// All of them.
    pub const ALL: [Self; 12] = [
        Self::Magnification,
        Self::FieldWidth,
        Self::FieldHeight,
        Self::SubjectToFilm,
        Self::WorkingDistance,
        Self::Extension,
        Self::EffectiveFNumber,
        Self::ExposureStops,
        Self::DepthOfField,
        Self::DepthNear,
        Self::DepthFar,
        Self::AiryDiameter,
    ];

    /// What a photographer calls it.
    pub fn label(self) -> &'static str {
        match self {
            Self::Magnification => "magnification",
            Self::FieldWidth => "field, width",
            Self::FieldHeight => "field, height",
            Self::SubjectToFilm => "subject to film",
            Self::WorkingDistance => "working distance",
            Self::Extension => "extension",
            Self::EffectiveFNumber => "effective f-number",
            Self::ExposureStops => "light lost",
            Self::DepthOfField => "depth of field",
            Self::DepthNear => "depth, near side",
            Self::DepthFar => "depth, far side",
            Self::AiryDiameter => "Airy disc on film",
        }
    }

    /// Its unit, empty for a plain ratio.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Magnification | Self::EffectiveFNumber => "",
            Self::ExposureStops => "stops",
            Self::AiryDiameter => "µm",
            _ => "mm",
        }
    }
}

/// A set of figures; one is missing where it is infinite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figures<T>([Option<T>; Figure::ALL.len()]);

impl<T: Copy> Figures<T> {
    /// No figure at all.
    pub fn none() -> Self {
        Self([None; Figure::ALL.len()])
    }

    /// The figure, `None` where it is infinite.
    pub fn get(&self, figure: Figure) -> Option<T> {
        self.0[figure as usize]
    }

    /// The figures in the order of [`Figure::ALL`].
    pub fn row(&self) -> [Option<T>; Figure::ALL.len()] {
        self.0
    }

    /// States a figure.
    pub fn set(&mut self, figure: Figure, value: T) {
        self.put(figure, Some(value));
    }

    /// States a figure, or that it is infinite.
    pub fn put(&mut self, figure: Figure, value: Option<T>) {
        self.0[figure as usize] = value;
    }

    /// Figure by figure through `f`.
    pub fn map<U: Copy>(&self, mut f: impl FnMut(Figure, T) -> U) -> Figures<U> {
        let mut mapped = Figures::none();
        for figure in Figure::ALL {
            mapped.put(figure, self.get(figure).map(|value| f(figure, value)));
        }
        mapped
    }
}

impl<T: Real> Figures<T> {
    /// The plain figures.
    pub fn values(&self) -> Figures<f64> {
        self.map(|_, value| value.value())
    }
}
