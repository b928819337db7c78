//! What the checks share: an own height-and-slope tracer, trains in their simplest form, and seeded chance.

mod chance;
mod trace;

pub use chance::Chance;
pub use trace::{Glass, Ray, Surface};

use optics::{BlackBox, Element, Figure, Figures, Placed, Train};

/// A lens with its principal planes together and its seat at the rear of nothing: `f_number` at its widest.
pub fn thin_lens(focal_length: f64, f_number: f64, pupil_ratio: f64) -> BlackBox<f64> {
    BlackBox { focal_length, separation: 0.0, pupil_ratio, f_number, length: 0.0, register: focal_length }
}

/// The set-up of one placed lens.
pub fn alone(placed: &Placed<f64>) -> Train<f64> {
    Train { elements: vec![placed.element], stops: vec![placed.stop], front: placed.front }
}

/// A lens on its own register with `extension` mm put behind it.
pub fn extended(lens: &BlackBox<f64>, extension: f64) -> Train<f64> {
    alone(&lens.seated(lens.register + extension, 0.0, 0))
}

/// The same turned round, at the magnification `m`: the rim is put where the principal plane behind it lies f(1 + m)
/// in front of the film.
pub fn reversed_at(lens: &BlackBox<f64>, m: f64) -> Train<f64> {
    let rim_to_plane = lens.length + lens.register - lens.focal_length - lens.separation;
    alone(&lens.reversed(lens.focal_length * (1.0 + m) - rim_to_plane, 0.0, 0))
}

/// A thin part at one place.
pub fn thin(power: f64, position: f64) -> Element<f64> {
    Element { power, front: position, back: position }
}

/// Every figure of a train on a square frame.
pub fn figures(train: &Train<f64>, f_number: f64, blur: f64) -> Figures<f64> {
    train.figures([56.0, 56.0], f_number, blur, 0.0).unwrap()
}

/// One figure that must be there.
pub fn get(figures: &Figures<f64>, figure: Figure) -> f64 {
    figures.get(figure).unwrap_or_else(|| panic!("{} is infinite", figure.label()))
}

/// A traced lens as the black box that a kit knows: the last vertex is the seat, the first one the rim.
pub fn black_box(glass: &Glass, f_number: f64) -> BlackBox<f64> {
    let points = glass.cardinal();
    BlackBox {
        focal_length: points.focal_length,
        separation: points.separation,
        pupil_ratio: points.pupil_ratio,
        f_number,
        length: points.length,
        register: points.back_focus,
    }
}
