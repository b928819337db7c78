//! Why a card cannot be laid out, and why a code is not one of ours.

/// Why a card cannot be laid out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CardError {
    /// Outside what can be printed and photographed.
    #[error("a field of {given_mm} mm has no card; its {side} must lie between {lowest_mm} and {highest_mm} mm")]
    Field {
        /// "width" or "height".
        side: &'static str,
        /// As given.
        given_mm: f64,
        /// Smallest.
        lowest_mm: f64,
        /// Largest.
        highest_mm: f64,
    },
    /// No film frame is as long as that.
    #[error(
        "a field of {width_mm} × {height_mm} mm is more than three times as long as it is high: no card is laid out for it"
    )]
    Shape {
        /// Width.
        width_mm: f64,
        /// Height.
        height_mm: f64,
    },
}

/// Why the text of a code does not describe a sheet.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CodeError {
    /// Some other code.
    #[error("the code does not belong to a target card")]
    Foreign,
    /// A later layout.
    #[error("the code belongs to a target card of a layout that this version does not know")]
    Later,
    /// Wrong length, wrong letters or a wrong check.
    #[error("the code of a target card is damaged")]
    Damaged,
}
