//! Why a document cannot be written.

/// Why a document cannot be written.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PrintError {
    /// A page that is no page.
    #[error("page {page} measures {width_mm} × {height_mm} mm; a page's sides lie between {least_mm} and {most_mm} mm")]
    Size {
        /// Counted from 1.
        page: usize,
        /// Its width.
        width_mm: f64,
        /// Its height.
        height_mm: f64,
        /// Smallest side.
        least_mm: f64,
        /// Largest side.
        most_mm: f64,
    },
    /// A place that is no number.
    #[error("page {page} has a shape with a place that is no finite number")]
    Place {
        /// Counted from 1.
        page: usize,
    },
    /// The font has no such letter.
    #[error("page {page}: the printing font has no letter for “{letter}”")]
    Letter {
        /// Counted from 1.
        page: usize,
        /// The letter.
        letter: char,
    },
    /// A picture that is none.
    #[error("page {page} holds a picture that is no JPEG file that can be read: {why}")]
    Picture {
        /// Counted from 1.
        page: usize,
        /// What its reader says.
        why: String,
    },
    /// A link to a place that the document does not have.
    #[error("page {page} has a link to “#{name}”, and nothing in the document has that name")]
    Link {
        /// Counted from 1.
        page: usize,
        /// The name.
        name: String,
    },
    /// A document without pages.
    #[error("a document without a page cannot be written")]
    Empty,
    /// The writer refused; a fault of this program.
    #[error("the document could not be written: {0}")]
    Writer(String),
}
