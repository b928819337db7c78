//! A train of refracting parts and stops in front of the film, and the image it makes.

use crate::{Figure, Figures, RayMatrix, Real, airy_diameter_mm};

/// Below this lateral magnification the subject counts as infinitely far: rounding leaves about 1e-15 where the exact
/// figure is zero, and one in 10⁹ lies kilometres beyond any close-up.
const INFINITY_MAGNIFICATION: f64 = 1e-9;

/// A refracting part between two principal planes. A thin lens has both at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Element<T> {
    /// Power in 1/mm.
    pub power: T,
    /// Where the principal plane that faces the subject lies, mm in front of the film.
    pub front: T,
    /// Where the principal plane that faces the film lies, mm in front of the film.
    pub back: T,
}

/// An aperture: an iris as it is seen from behind its own element (the exit pupil of that element alone), or the clear
/// opening of a rim, a tube or a mount throat at its true place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stop<T> {
    /// How many elements, counted from the film, lie between it and the film: its picture by those is what the film
    /// sees.
    pub element: usize,
    /// Where it lies, mm in front of the film.
    pub position: T,
    /// Its diameter, mm.
    pub diameter: T,
}

/// Parts in front of the film, nothing implicit. See the crate's head for the direction of light and of positions.
#[derive(Debug, Clone, PartialEq)]
pub struct Train<T> {
    /// From the film outwards.
    pub elements: Vec<Element<T>>,
    /// Every aperture that could limit the light.
    pub stops: Vec<Stop<T>>,
    /// Where the part that faces the subject ends, mm in front of the film.
    pub front: T,
}

/// Why a train makes no real picture of anything in front of it.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum FocusError {
    /// The sharp plane would lie behind the foremost glass: only a virtual subject could be sharp.
    #[error("no real subject can be sharp: the sharp plane would lie {behind_mm:.1} mm behind the foremost glass")]
    VirtualSubject {
        /// How far behind the foremost principal plane, mm.
        behind_mm: f64,
    },
    /// The train has no elements, or none of its stops lets light through.
    #[error("a train needs at least one lens and one stop that is open")]
    Empty,
    /// The only stop is imaged onto the film itself: it cuts the picture and not the light.
    #[error("the iris is imaged onto the film itself, where it would bound the picture and not the light")]
    StopOnFilm,
}

/// How far the picture is lit, as radii on film, mm. Infinite where no aperture but the limiting one is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LitCircle {
    /// Within this radius every point gets the whole cone of light.
    pub whole: f64,
    /// Beyond this radius no light arrives at all.
    pub any: f64,
    /// Which of the train's stops cuts first.
    pub cut_by: Option<usize>,
}

/// The image that a train makes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Image<T> {
    /// Size on film over size of the subject; 0 for an infinitely far subject.
    pub magnification: T,
    /// Where the sharp plane lies, mm in front of the film; `None` when infinitely far.
    pub subject: Option<T>,
    /// Half the angle of the cone of light at the film, as a slope.
    pub film_slope: T,
    /// Which of the train's stops limits that cone.
    pub limiting_stop: usize,
    /// Power of the whole train, 1/mm: 0 when it is afocal, so that its magnification does not change with the
    /// distance.
    pub power: T,
    /// One over the distance from the subject to the entrance pupil, 1/mm: 0 when the pupil is infinitely far (subject
    /// side telecentric), negative when it lies behind the subject.
    pub inverse_pupil_distance: T,
}

impl<T: Real> Train<T> {
    /// The matrix from the front principal plane of element `outermost` (counted from the film) to the film.
    fn to_film(&self, outermost: usize) -> RayMatrix<T> {
        let mut matrix = RayMatrix::identity();
        let mut plane = T::exact(0.0);
        for element in &self.elements[..=outermost] {
            matrix = matrix.after(RayMatrix::path(element.back - plane)).after(RayMatrix::refraction(element.power));
            plane = element.front;
        }
        matrix
    }

    /// The matrix from a plane just behind element `element`, `position` mm in front of the film, to the film.
    fn behind_to_film(&self, element: usize, position: T) -> RayMatrix<T> {
        match element.checked_sub(1) {
            None => RayMatrix::path(position),
            Some(next) => self.to_film(next).after(RayMatrix::path(position - self.elements[next].front)),
        }
    }

    /// The matrix from the foremost principal plane to the film.
    pub fn matrix(&self) -> Option<RayMatrix<T>> {
        Some(self.to_film(self.elements.len().checked_sub(1)?))
    }

    /// The stop that limits the light at the film's centre, and the slope of its cone there.
    ///
    /// A ray from the film's centre at slope u meets a plane behind which the matrix is M at height −b·u, so a stop of
    /// radius r passes slopes up to r/|b|: every stop is imaged to the film and the smallest cone decides.
    fn limiting_stop(&self) -> Option<(usize, T)> {
        let slopes = self.stops.iter().enumerate().map(|(index, stop)| {
            let reach = self.behind_to_film(stop.element, stop.position).b.abs();
            (index, stop.diameter / (T::exact(2.0) * reach))
        });
        slopes.filter(|(_, slope)| slope.value() > 0.0).min_by(|(_, p), (_, q)| p.value().total_cmp(&q.value()))
    }

    /// Where the sharp plane lies and how the light comes from it.
    pub fn image(&self) -> Result<Image<T>, FocusError> {
        let matrix = self.matrix().ok_or(FocusError::Empty)?;
        let (limiting_stop, film_slope) = self.limiting_stop().ok_or(FocusError::Empty)?;
        if !film_slope.value().is_finite() {
            return Err(FocusError::StopOnFilm);
        }
        let zero = T::exact(0.0);
        if matrix.a.value().abs() < INFINITY_MAGNIFICATION {
            let inverse_pupil_distance = zero;
            let power = -matrix.c;
            let (magnification, subject) = (zero, None);
            return Ok(Image { magnification, subject, film_slope, limiting_stop, power, inverse_pupil_distance });
        }
        // Film and subject are conjugate where b of the whole vanishes: a·s + b = 0, and a is then the magnification.
        let distance = -matrix.b / matrix.a;
        let subject = self.elements[self.elements.len() - 1].front + distance;
        // A principal plane may lie in front of the glass that it belongs to: what counts is whether the subject does.
        if distance.value() <= 0.0 && subject.value() < self.front.value() {
            return Err(FocusError::VirtualSubject { behind_mm: -distance.value() });
        }
        let stop = self.stops[limiting_stop];
        let whole = matrix.after(RayMatrix::path(distance));
        // The chief ray from subject height h leaves at slope −a·h/b to cross the stop's centre.
        let to_stop = self.behind_to_film(stop.element, stop.position).undone().after(whole);
        let inverse_pupil_distance = to_stop.a / to_stop.b;
        Ok(Image {
            magnification: matrix.a.abs(),
            subject: Some(subject),
            film_slope,
            limiting_stop,
            power: -matrix.c,
            inverse_pupil_distance,
        })
    }

    /// Lateral magnification with its sign turned, so that the usual inverted picture of a real subject counts as
    /// positive: 0 at infinity, negative where the film lies nearer to the lens than its picture of an infinitely far
    /// subject.
    pub fn inverted_magnification(&self) -> Option<T> {
        Some(-self.matrix()?.a)
    }

    /// The matrix from a stop's plane, behind the elements that lie in front of it, to the film.
    pub fn behind(&self, stop: &Stop<T>) -> RayMatrix<T> {
        self.behind_to_film(stop.element, stop.position)
    }

    /// Height on film at which the middle of a beam arrives that leaves the centre of `stop` at `slope` toward the
    /// film.
    pub fn height_on_film(&self, stop: &Stop<T>, slope: T) -> T {
        (self.behind_to_film(stop.element, stop.position).b * slope).abs()
    }

    /// Every optical figure of the set-up.
    ///
    /// `frame` is the picture on film, mm (width, height); `f_number` the engraved one; `blur` the largest disc on film
    /// that still counts as sharp, mm; `extension` what was put between lens and body, mm.
    pub fn figures(&self, frame: [T; 2], f_number: T, blur: T, extension: T) -> Result<Figures<T>, FocusError> {
        let image = self.image()?;
        let mut figures = Figures::none();
        let effective = T::exact(0.5) / image.film_slope;
        figures.set(Figure::Magnification, image.magnification);
        figures.set(Figure::Extension, extension);
        figures.set(Figure::EffectiveFNumber, effective);
        figures.set(Figure::ExposureStops, T::exact(2.0) * (effective / f_number).log2());
        figures.set(Figure::AiryDiameter, airy_diameter_mm(effective) * T::exact(1000.0));
        if let Some(subject) = image.subject {
            figures.set(Figure::FieldWidth, frame[0] / image.magnification);
            figures.set(Figure::FieldHeight, frame[1] / image.magnification);
            figures.set(Figure::SubjectToFilm, subject);
            figures.set(Figure::WorkingDistance, subject - self.front);
            image.depth(blur, &mut figures);
        }
        Ok(figures)
    }
}

impl Train<f64> {
    /// How far from its centre the film is lit, when the other apertures are laid over the limiting one.
    ///
    /// A ray that leaves the film at height h and slope u meets an aperture behind which the matrix to the film is M at
    /// height a·h + b·u of the inverse of M. The rim rays of the limiting stop bound the beam; where one of them grazes
    /// another aperture's edge the film begins to darken, where the other does it is dark. Both are linear in h, so
    /// each aperture gives one division.
    pub fn lit_circle(&self) -> Option<LitCircle> {
        let (limiting, _) = self.limiting_stop()?;
        let back = |stop: &Stop<f64>| self.behind_to_film(stop.element, stop.position).undone();
        let iris = back(&self.stops[limiting]);
        let iris_radius = 0.5 * self.stops[limiting].diameter;
        let mut circle = LitCircle { whole: f64::INFINITY, any: f64::INFINITY, cut_by: None };
        for (index, stop) in self.stops.iter().enumerate().filter(|(index, _)| *index != limiting) {
            let here = back(stop);
            // The ray from film height h through iris height y has slope (y − a·h)/b there, and so here the height
            // (a' − b'·a/b)·h + (b'/b)·y.
            let per_height = (here.a - here.b * iris.a / iris.b).abs();
            let beam_radius = (here.b / iris.b * iris_radius).abs();
            let radius = 0.5 * stop.diameter;
            let whole = (radius - beam_radius).max(0.0) / per_height;
            if whole < circle.whole {
                (circle.whole, circle.cut_by) = (whole, Some(index));
            }
            circle.any = circle.any.min((radius + beam_radius) / per_height);
        }
        Some(circle)
    }
}

impl<T: Real> Image<T> {
    /// Depth of field by the pupils, exact in the paraxial model: with a the distance from subject to entrance pupil, E
    /// its diameter and c' the blur brought to the subject, near = a·c'/(E + c') and far = a·c'/(E − c'), infinite
    /// where E ≤ c' (Ray, *Applied Photographic Optics*, from memory). Divided through by a it holds for a pupil at
    /// infinity too. Nothing is set when the subject itself is infinitely far.
    fn depth(&self, blur: T, figures: &mut Figures<T>) {
        let blur_on_subject = blur / self.magnification;
        let cone = T::exact(2.0) * self.film_slope * self.magnification;
        let spread = blur_on_subject * self.inverse_pupil_distance;
        let limit = |cone: T| (cone.value() > 0.0).then(|| blur_on_subject / cone);
        let (near, far) = (limit(cone + spread), limit(cone - spread));
        figures.put(Figure::DepthNear, near);
        figures.put(Figure::DepthFar, far);
        figures.put(Figure::DepthOfField, near.zip(far).map(|(near, far)| near + far));
    }
}
