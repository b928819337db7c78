//! Keeping the form that stands for a lens.

use axum::extract::State;
use axum::response::Redirect;
use kit::Kind;

use crate::bench::{FIELD, designs_of};
use crate::calibrating;
use crate::web::form::Filled;
use crate::web::kit_book::{read_kit, record};
use crate::web::{App, PageError};

/// Writes the form's key into the lens, and nothing else of it changes.
pub(super) async fn keep(State(app): State<App>, filled: Filled) -> Result<Redirect, PageError> {
    let (lens, key) = (filled.text("lens").to_owned(), filled.text("form").to_owned());
    let back = match filled.text("back") {
        "table" => format!("/bench/table?kept={key}"),
        _ => format!("/bench?lens={lens}"),
    };
    app.notebook(move |book| {
        let kit = read_kit(book)?;
        if !designs_of(&kit).iter().any(|design| design.key() == key) {
            let advice = "Choose one of the forms on the page.";
            return Err(PageError::refused(format!("There is no design form “{key}”."), advice));
        }
        let part = kit.part(&lens).filter(|part| part.kind() == Kind::Lens);
        let part = part.ok_or_else(|| PageError::missing(format!("There is no lens “{lens}” in the kit.")))?;
        let changed = calibrating::rebuilt(part, |field| (field == FIELD).then(|| key.clone()));
        let changed = changed.map_err(|why| PageError::refused(why, "Mend the lens in the kit first."))?;
        Ok::<_, PageError>(book.update_part(&lens, &record(&changed))?)
    })
    .await?;
    Ok(Redirect::to(&back))
}
