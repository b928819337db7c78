//! What the kit's data say of a set-up: figures that no frame is needed for.

use kit::{Focus, Kit, Setup, SetupRequest};
use optics::Figure as Optical;
use verdict::enough::{Figure, Quantity};

use super::figures::Placed;
use crate::web::error::sentence;

/// Worked-out figures, or why there are none.
pub fn predicted(kit: &Kit, parts: &[String], focus: &str, f_number: Option<f64>) -> Result<Vec<Placed>, String> {
    let focus: Focus = focus.parse().map_err(|_| format!("its focus “{focus}” cannot be read."))?;
    let request = SetupRequest { parts: parts.to_vec(), focus, f_number, coc_mm: None };
    let setup = Setup::resolve(kit, &request).map_err(|error| sentence(&error.to_string()))?;
    let report = setup.report().map_err(|error| sentence(&error.to_string()))?;
    let page = address(parts, &focus.to_string(), f_number);
    let figure = |of: Optical, quantity: Quantity| {
        let found = report.figures.get(of).filter(|found| found.value.is_finite() && found.plus_minus.is_finite())?;
        let figure = Figure {
            quantity,
            at: None,
            value: found.value,
            own_plus_minus: found.plus_minus,
            shared: Vec::new(),
            only: None,
            evidence: vec![page.clone()],
        };
        Some(Placed { figure, place: String::new() })
    };
    let sides = [Optical::FieldWidth, Optical::FieldHeight].map(|side| figure(side, Quantity::Field));
    let short = match sides {
        [Some(width), Some(height)] => Some(if width.figure.value <= height.figure.value { width } else { height }),
        [one, other] => one.or(other),
    };
    let all = [
        short,
        figure(Optical::WorkingDistance, Quantity::WorkingDistance),
        figure(Optical::ExposureStops, Quantity::LightLost),
        figure(Optical::Magnification, Quantity::Magnification),
    ];
    Ok(all.into_iter().flatten().collect())
}

/// The page of a set-up.
pub fn address(parts: &[String], focus: &str, f_number: Option<f64>) -> String {
    let mut query = form_urlencoded::Serializer::new(String::new());
    query.append_pair("parts", &parts.join(",")).append_pair("focus", focus);
    if let Some(f) = f_number {
        query.append_pair("f", &f.to_string());
    }
    format!("/set-up?{}", query.finish())
}
