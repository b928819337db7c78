//! Close-up lenses of a given power from catalogue glass.

use crate::{Glass, Medium, Prescription, PrescriptionError, Row, Surface, Wavelength, catalogue_glass};

/// How a close-up lens is made. Turn it round with [`Prescription::reversed`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CloseUpKind {
    /// One glass, round in front and flat behind.
    PlanoConvex,
    /// One glass, round in front and hollow behind, as most cheap ones are.
    Meniscus,
    /// A crown and a flint cemented, free of primary axial colour as thin lenses; round side in front.
    Achromat,
}

/// What a close-up lens is to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CloseUp {
    /// Power at the d line, dioptres.
    pub power_dpt: f64,
    /// Clear diameter, mm.
    pub diameter_mm: f64,
    /// How it is made.
    pub kind: CloseUpKind,
}

/// Why there is no such close-up lens.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum CloseUpError {
    /// No power above 0.
    #[error("a close-up lens of {0} dioptres is none: its power must be above 0")]
    Power(f64),
    /// No surfaces of that power are that wide.
    #[error("no close-up lens of that power is so wide: {0}")]
    Shape(#[from] PrescriptionError),
}

/// Glass at the rim of a close-up lens, mm: enough to be held by (common practice, no source).
const RIM_MM: f64 = 1.5;

/// Bending (c₁ + c₂)/(c₁ − c₂) of a meniscus: a rear surface half as round as the front one (own choice).
const MENISCUS_BENDING: f64 = 3.0;

/// Curvatures are brought to the exact power of the thick lens by repeating this often; every turn gains a digit or more.
const TURNS: usize = 40;

impl CloseUp {
    /// Its table: N-BK7, with SF5 behind it in an achromat. It has no stop of its own.
    pub fn prescription(&self) -> Result<Prescription, CloseUpError> {
        if !(self.power_dpt.is_finite() && self.power_dpt > 0.0) {
            return Err(CloseUpError::Power(self.power_dpt));
        }
        let wanted = self.power_dpt * 1e-3;
        // The thin lens's curvatures, then larger or smaller as the thick one's power asks for.
        let (mut curvatures, glasses) = self.thin(wanted);
        let mut lens = self.thick(&curvatures, &glasses)?;
        for _ in 0..TURNS {
            let power = -lens.at(Wavelength::D).abcd().c;
            curvatures.iter_mut().for_each(|curvature| *curvature *= wanted / power);
            lens = self.thick(&curvatures, &glasses)?;
        }
        Ok(lens)
    }

    /// Curvatures of the thin lens, and its glasses.
    fn thin(&self, power: f64) -> (Vec<f64>, Vec<&'static Glass>) {
        let named = |name: &str| catalogue_glass(name).unwrap_or(&crate::CATALOGUE[0]);
        let (crown, flint) = (named("N-BK7"), named("SF5"));
        let strength = |glass: &Glass| glass.constants.index(Wavelength::D) - 1.0;
        let total = power / strength(crown);
        match self.kind {
            CloseUpKind::PlanoConvex => (vec![total, 0.0], vec![crown]),
            CloseUpKind::Meniscus => {
                let ends = [MENISCUS_BENDING + 1.0, MENISCUS_BENDING - 1.0].map(|share| 0.5 * share * total);
                (ends.to_vec(), vec![crown])
            }
            CloseUpKind::Achromat => {
                // φ₁ = φV₁/(V₁ − V₂), φ₂ = −φV₂/(V₁ − V₂); the crown is as round on both sides.
                let (v1, v2) = (crown.abbe(), flint.abbe());
                let bend = 0.5 * power * v1 / (v1 - v2) / strength(crown);
                let last = -bend + power * v2 / (v1 - v2) / strength(flint);
                (vec![bend, -bend, last], vec![crown, flint])
            }
        }
    }

    /// The lens of those curvatures, thick enough for its diameter.
    fn thick(&self, curvatures: &[f64], glasses: &[&Glass]) -> Result<Prescription, PrescriptionError> {
        let semi = 0.5 * self.diameter_mm;
        let sag = |curvature: f64| Surface::curved(curvature).sag(semi).unwrap_or(0.0);
        let rows = curvatures.iter().enumerate().map(|(i, curvature)| {
            let next = curvatures.get(i + 1);
            let gap = next.map(|next| RIM_MM + (sag(*curvature) - sag(*next)).max(0.0));
            let after = glasses.get(i).map_or(Medium::Air, |glass| glass.medium());
            Row::new(Surface::curved(*curvature), gap, after).clear(semi)
        });
        Prescription::new(rows.collect())
    }
}
