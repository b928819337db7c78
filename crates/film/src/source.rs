//! Where a figure comes from.

/// Who says it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum By {
    /// The maker of the film.
    Maker,
    /// Somebody else's test.
    Independent,
    /// The person's own test.
    Own,
}

/// How it was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Seen {
    /// The document itself.
    Print,
    /// A copy, or somebody who quotes it.
    Copy,
}

/// A document, its date, and how it was seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// Who says it.
    pub by: By,
    /// What it is called.
    pub document: String,
    /// Its date, in words.
    pub date: String,
    /// The page, where it is known.
    pub page: Option<String>,
    /// How it was seen.
    pub seen: Seen,
    /// What else to know of it; empty for nothing.
    pub note: String,
}

impl Source {
    /// A person's own test; its date and notes in words.
    pub fn own(date: &str, note: &str) -> Self {
        let date = if date.is_empty() { "no date given" } else { date };
        Self {
            by: By::Own,
            document: "your own test".into(),
            date: date.into(),
            page: None,
            seen: Seen::Print,
            note: note.into(),
        }
    }

    /// How much it is worth, in words: "as published", "from a copy of the maker's sheet".
    pub fn standing(&self) -> &'static str {
        match (self.by, self.seen) {
            (By::Own, _) => "your own test",
            (By::Maker, Seen::Print) => "as published",
            (By::Maker, Seen::Copy) => "from a copy of the maker's sheet",
            (By::Independent, _) => "an independent test, not the maker's",
        }
    }

    /// "Kodak F-4016, October 2007, p. 5".
    pub fn words(&self) -> String {
        let page = self.page.as_ref().map(|page| format!(", {page}")).unwrap_or_default();
        format!("{}, {}{page}", self.document, self.date)
    }
}
