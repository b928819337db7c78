//! What the set-up says with which a scan's frame was taken.

use kit::{Focus, Setup, SetupRequest};
use notebook::{Notebook, Scan};
use optics::Figure;

use crate::documents::Measured;
use crate::web::PageError;
use crate::web::kit_book::{read_kit, set_up_name};
use crate::whole_frame::SetUp;

/// The set-up of the frame that a scan shows; `None` where no frame is named, none is logged with it, or the kit can no longer
/// make it.
pub(super) fn of_scan(book: &Notebook, scan: &Scan) -> Result<Option<SetUp>, PageError> {
    let Some(frame) = scan.frame.map(|id| book.frame(id)).transpose()?.flatten() else { return Ok(None) };
    let Ok(focus) = frame.focus.parse::<Focus>() else { return Ok(None) };
    if frame.parts.is_empty() {
        return Ok(None);
    }
    let kit = read_kit(book)?;
    let request = SetupRequest { parts: frame.parts.clone(), focus, f_number: frame.f_number, coc_mm: None };
    let Ok(setup) = Setup::resolve(&kit, &request) else { return Ok(None) };
    let Ok(report) = setup.report() else { return Ok(None) };
    let figure = |figure| {
        let found = report.figures.get(figure)?;
        Some(Measured { value: found.value, plus_minus: found.plus_minus })
    };
    let (Some(magnification), Some(effective_f_number)) =
        (figure(Figure::Magnification), figure(Figure::EffectiveFNumber))
    else {
        return Ok(None);
    };
    Ok(Some(SetUp {
        name: set_up_name(&kit, &frame.parts),
        magnification,
        effective_f_number,
        depth_mm: figure(Figure::DepthOfField),
        circle_um: setup.coc_mm() * 1000.0,
    }))
}
