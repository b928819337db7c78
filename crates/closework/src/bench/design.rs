//! What stands for a lens when rays are traced: a form of the library, or a table of the person's own.

use std::sync::Arc;

use kit::{Kind, Kit, Part, Setup};
use rays::{BackFocus, Form, Looks, Medium, Prescription, PrescriptionError, TableError, Wavelength};

use super::stand_in::BenchError;
use super::words;
use crate::calibrating::rebuilt;
use crate::web::fmt;

/// The field of a lens that names what stands for it.
pub const FIELD: &str = "design_form";
/// The field of a lens table that holds its surfaces.
pub const SURFACES: &str = "surfaces";

/// A form of the library, or a table of the person's own.
#[derive(Debug, Clone, PartialEq)]
pub enum Design {
    /// Published.
    Form(&'static Form),
    /// Typed or pasted.
    Own(Arc<OwnTable>),
}

/// A table of the person's own that can stand for a lens: it has a focal length and an iris.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnTable {
    /// Its id in the kit; empty for one that is not kept.
    pub id: String,
    /// What the person calls it.
    pub name: String,
    /// As typed, mm.
    pub lens: Prescription,
    /// What stands behind the last surface, mm.
    pub printed_back_focus_mm: Option<f64>,
    /// As traced, mm.
    pub focal_length_mm: f64,
    /// As traced, mm.
    pub back_focus_mm: f64,
}

/// Why a table cannot stand for a lens.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum OwnTableError {
    /// It cannot be read.
    #[error("{0}")]
    Table(#[from] TableError),
    /// Nothing far away is brought to a focus behind it.
    #[error("a camera lens brings light together behind it, and this table does not: check the signs of its radii")]
    NoPower,
    /// Without an iris an f-number says nothing about it.
    #[error(
        "the table has no stop: write “stop” in place of a radius where the iris is, or at the end of its surface's line"
    )]
    NoStop,
    /// It cannot be put in the kit.
    #[error("it cannot be put in the kit: {0}")]
    Unkept(String),
}

impl OwnTable {
    /// From its text.
    ///
    /// # Errors
    ///
    /// When it cannot be read, or cannot stand for a lens.
    pub fn read(id: &str, name: &str, text: &str) -> Result<Self, OwnTableError> {
        let table = Prescription::read(text)?;
        let cardinal = table.lens.at(Wavelength::D).cardinal().filter(|of| of.focal_length_mm > 0.0);
        let cardinal = cardinal.ok_or(OwnTableError::NoPower)?;
        if table.lens.semi_diameter_for(8.0, Wavelength::D).is_none() {
            return Err(OwnTableError::NoStop);
        }
        Ok(Self {
            id: id.into(),
            name: name.into(),
            printed_back_focus_mm: table.printed_back_focus_mm,
            focal_length_mm: cardinal.focal_length_mm,
            back_focus_mm: cardinal.back_focus_mm,
            lens: table.lens,
        })
    }

    /// From the kit's part.
    pub fn of_part(part: &Part) -> Result<Self, OwnTableError> {
        Self::read(part.id(), part.name(), part.words(SURFACES).unwrap_or_default())
    }

    /// Glass elements: stretches between surfaces that are not air.
    fn elements(&self) -> usize {
        self.lens.rows().iter().filter(|row| row.after != Medium::Air).count()
    }

    fn back_focus(&self) -> BackFocus {
        match self.back_focus_mm / self.focal_length_mm {
            share if share < 0.5 => BackFocus::Short,
            share if share > 1.0 => BackFocus::Long,
            _ => BackFocus::Usual,
        }
    }

    /// Whether as many glasses stand before the stop as behind it: halves that are nearly alike.
    fn symmetric(&self) -> bool {
        let Some(stop) = self.lens.stop() else { return false };
        let glasses = |rows: &[rays::Row]| rows.iter().filter(|row| row.after != Medium::Air).count();
        let (before, behind) = self.lens.rows().split_at(stop);
        glasses(before) == glasses(behind)
    }

    /// The form of the library whose rows these are, where they are.
    fn form(&self) -> Option<&'static Form> {
        rays::FORMS.iter().find(|form| form.scaled_to(self.focal_length_mm).is_ok_and(|of| alike(&of, &self.lens)))
    }

    /// Whether and how it was made larger for a lens of that focal length.
    pub fn scaling(&self, focal_length_mm: f64) -> String {
        let factor = focal_length_mm / self.focal_length_mm;
        let own = fmt::figure(self.focal_length_mm, 4);
        if (factor - 1.0).abs() < 5e-4 {
            return format!("as large as it was typed, {own} mm");
        }
        format!(
            "made {} times as large, from {own} mm to {} mm",
            fmt::figure(factor, 4),
            fmt::figure(focal_length_mm, 4)
        )
    }

    /// Back focus as typed beside traced.
    pub fn mismatch(&self) -> String {
        let traced = fmt::figure(self.back_focus_mm, 5);
        match self.printed_back_focus_mm {
            None => format!("the table gives no back focus behind its last surface; traced {traced} mm"),
            Some(printed) => format!(
                "back focus in the table {printed} mm, traced {traced} mm ({} %)",
                fmt::signed(100.0 * (self.back_focus_mm / printed - 1.0), 2)
            ),
        }
    }
}

/// Two tables are one lens when no figure differs by more than rounding makes of a scaling.
fn alike(one: &Prescription, other: &Prescription) -> bool {
    const ROUNDING: f64 = 1e-9;
    let near = |a: f64, b: f64| (a - b).abs() <= ROUNDING * a.abs().max(b.abs()).max(1.0);
    let gap = |row: &rays::Row| row.gap_mm.unwrap_or(0.0);
    let index = |row: &rays::Row| row.after.index(Wavelength::D);
    let pairs = one.rows().iter().zip(other.rows());
    one.rows().len() == other.rows().len()
        && pairs.into_iter().all(|(a, b)| {
            near(a.surface.curvature, b.surface.curvature)
                && near(gap(a), gap(b))
                && near(index(a), index(b))
                && a.stop == b.stop
        })
}

impl Design {
    /// A table that was typed and is not kept.
    pub fn typed(text: &str) -> Result<Self, OwnTableError> {
        OwnTable::read("", "as typed", text).map(|table| Self::Own(Arc::new(table)))
    }

    /// Its key in the library or its id in the kit.
    pub fn key(&self) -> &str {
        match self {
            Self::Form(form) => form.key,
            Self::Own(table) => &table.id,
        }
    }

    /// Its name.
    pub fn name(&self) -> &str {
        match self {
            Self::Form(form) => form.name,
            Self::Own(table) => &table.name,
        }
    }

    /// Where it comes from.
    pub fn source(&self) -> &str {
        match self {
            Self::Form(form) => form.source,
            Self::Own(_) => "a lens table of your own",
        }
    }

    /// The form, where it is one of the library.
    pub fn form(&self) -> Option<&'static Form> {
        match self {
            Self::Form(form) => Some(form),
            Self::Own(_) => None,
        }
    }

    /// The table, where it is the person's own.
    pub fn own(&self) -> Option<&OwnTable> {
        match self {
            Self::Form(_) => None,
            Self::Own(table) => Some(table),
        }
    }

    /// As printed or typed.
    pub fn prescription(&self) -> Prescription {
        match self {
            Self::Form(form) => form.prescription(),
            Self::Own(table) => table.lens.clone(),
        }
    }

    /// As large as a lens of that focal length, mm.
    pub fn scaled_to(&self, focal_length_mm: f64) -> Result<Prescription, PrescriptionError> {
        match self {
            Self::Form(form) => form.scaled_to(focal_length_mm),
            Self::Own(table) => table.lens.scaled(focal_length_mm / table.focal_length_mm),
        }
    }

    /// Whether it tells how its glasses change with colour.
    pub fn dispersion_known(&self) -> bool {
        match self {
            Self::Form(form) => form.dispersion_known(),
            Self::Own(table) => table.lens.dispersion_known(),
        }
    }

    /// The widest stop that is printed.
    pub fn widest(&self) -> Option<f64> {
        self.form()?.published_f_number
    }

    /// What can be seen of it.
    pub fn looks(&self) -> Looks {
        let (elements, symmetric, back_focus) = match self {
            Self::Form(form) => (form.elements, form.symmetric(), form.back_focus()),
            Self::Own(table) => (table.elements(), table.symmetric(), table.back_focus()),
        };
        Looks { elements: Some(elements), symmetric: Some(symmetric), back_focus: Some(back_focus) }
    }

    /// The form of the library that it is, whoever typed its rows.
    pub fn known_as(&self) -> Option<&'static Form> {
        match self {
            Self::Form(form) => Some(form),
            Self::Own(table) => table.form(),
        }
    }

    /// Printed or typed beside traced.
    pub fn mismatch(&self) -> String {
        match self {
            Self::Form(form) => words::mismatch(form),
            Self::Own(table) => table.mismatch(),
        }
    }
}

/// Lens tables to look a name up in, the kit's before the library's.
#[derive(Debug, Clone, Copy)]
pub struct Designs<'a>(&'a [&'a Part]);

impl<'a> Designs<'a> {
    /// Those of the kit that a set-up was resolved from.
    pub fn of(setup: &'a Setup<'_>) -> Self {
        Self(setup.lens_tables())
    }

    /// What stands for a lens.
    pub fn of_lens(self, lens: &Part) -> Result<Design, BenchError> {
        let named = lens.words(FIELD).map(str::trim).filter(|named| !named.is_empty());
        let named = named.ok_or_else(|| BenchError::NoForm { lens: lens.id().into(), example: rays::FORMS[0].key })?;
        self.named(named)?.ok_or_else(|| BenchError::UnknownForm {
            lens: lens.id().into(),
            found: named.into(),
            known: self.known().join(", "),
        })
    }

    /// By a table's id or a form's key.
    pub fn named(self, key: &str) -> Result<Option<Design>, BenchError> {
        match self.0.iter().find(|table| table.id() == key) {
            Some(part) => match OwnTable::of_part(part) {
                Ok(table) => Ok(Some(Design::Own(Arc::new(table)))),
                Err(why) => Err(BenchError::OwnTable { id: key.into(), why }),
            },
            None => Ok(rays::form(key).map(Design::Form)),
        }
    }

    /// Every name, the kit's own first.
    fn known(self) -> Vec<String> {
        let own = self.0.iter().map(|table| table.id().to_owned());
        own.chain(rays::FORMS.iter().map(|form| form.key.to_owned())).collect()
    }
}

/// What stands for a lens of a kit.
pub fn design_of(kit: &Kit, lens: &Part) -> Result<Design, BenchError> {
    let tables: Vec<&Part> = kit.of_kind(Kind::LensTable).collect();
    Designs(&tables).of_lens(lens)
}

/// Everything of a kit that could stand for a lens: its own tables, then the library's forms that none of them hides.
pub fn designs_of(kit: &Kit) -> Vec<Design> {
    let own = kit.of_kind(Kind::LensTable);
    let hidden = |key: &str| kit.part(key).is_some_and(|part| part.kind() == Kind::LensTable);
    let forms = rays::FORMS.iter().filter(|form| !hidden(form.key)).map(Design::Form);
    own.filter_map(|part| OwnTable::of_part(part).ok()).map(|table| Design::Own(Arc::new(table))).chain(forms).collect()
}

/// The first of some parts that the bench could not use: a table that cannot be read, a lens that names what the kit and the library
/// do not have.
///
/// # Errors
///
/// Which it is, and what to do.
pub fn check_designs<'p>(kit: &Kit, parts: impl IntoIterator<Item = &'p Part>) -> Result<(), BenchError> {
    let named = |lens: &Part| lens.words(FIELD).is_some_and(|named| !named.trim().is_empty());
    parts.into_iter().try_for_each(|part| match part.kind() {
        Kind::LensTable => {
            OwnTable::of_part(part).map(drop).map_err(|why| BenchError::OwnTable { id: part.id().into(), why })
        }
        Kind::Lens if named(part) => design_of(kit, part).map(drop),
        _ => Ok(()),
    })
}

/// The kit with a typed table in the place of whatever stood for one of its lenses.
///
/// # Errors
///
/// When the kit has no such lens, or the table cannot stand for one.
pub fn with_table(kit: &Kit, lens: &str, name: &str, text: &str) -> Result<Kit, BenchError> {
    let lenses = || kit.of_kind(Kind::Lens).map(Part::id).collect::<Vec<_>>().join(", ");
    let part = kit.part(lens).filter(|part| part.kind() == Kind::Lens);
    let part = part.ok_or_else(|| BenchError::NoSuchLens { lens: lens.into(), known: lenses() })?;
    OwnTable::read("", name, text).map_err(|why| BenchError::OwnTable { id: name.into(), why })?;
    let unmade = |why: String| BenchError::OwnTable { id: name.into(), why: OwnTableError::Unkept(why) };
    let ids = std::iter::once(format!("{lens}-table")).chain((2..).map(|n| format!("{lens}-table-{n}")));
    let id = ids.into_iter().find(|id| kit.part(id).is_none()).unwrap_or_default();
    let table = table_part(&id, name, text).map_err(unmade)?;
    let lens = rebuilt(part, |field| (field == FIELD).then(|| id.clone())).map_err(unmade)?;
    let others = kit.parts().iter().map(|other| if other.id() == lens.id() { lens.clone() } else { other.clone() });
    Kit::from_parts(others.chain([table]).collect()).map_err(unmade)
}

/// A table as a part of the kit.
///
/// # Errors
///
/// What is wrong with its id, in words.
pub fn table_part(id: &str, name: &str, text: &str) -> Result<Part, String> {
    let typed = |field: &str| match field {
        "name" => Some(name.to_owned()),
        SURFACES => Some(text.replace("\r\n", "\n")),
        _ => None,
    };
    Part::from_form(Kind::LensTable, id, typed)
        .map_err(|errors| errors.first().map(ToString::to_string).unwrap_or_default())
}

/// The lenses of a kit that stand on a table.
pub fn standing_on<'k>(kit: &'k Kit, table: &str) -> Vec<&'k Part> {
    kit.of_kind(Kind::Lens).filter(|lens| lens.words(FIELD).map(str::trim) == Some(table)).collect()
}

/// US 2,673,491 as it stands in the library, for tests of pasted tables.
#[cfg(test)]
pub(super) const PASTED: &str = "29.475 3.76 1.67125 47.1 12.6
84.83 0.12 air - 12.6
19.275 4.025 1.67125 47.1 11.5
40.77 3.275 1.69842 30.1 11.5
12.75 5.705 air - 9
stop 4.5 air - 8.55
-14.495 1.18 1.60266 38.4 8.5
40.77 6.065 1.65953 57 10
-20.385 0.19 air - 10
437.065 3.22 1.71740 48.1 10
-39.73 35.718 air - 10
";

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn a_pasted_form_is_known_as_what_it_is() {
        let table = OwnTable::read("mine", "Mine", PASTED).expect("a table");
        let own = Design::Own(Arc::new(table.clone()));
        let form = rays::form("double-gauss-1954").expect("in the library");
        assert_eq!(own.known_as().map(|form| form.key), Some("double-gauss-1954"));
        assert_eq!(own.looks(), Design::Form(form).looks());
        let [own_glass, of_form] = [own.scaled_to(85.0), form.scaled_to(85.0)].map(|lens| lens.expect("a size"));
        assert!(alike(&own_glass, &of_form) && own.dispersion_known());
        // Scaled and not, and the mismatch of the back focus as the library has it (printed 35.718, traced 35.7223).
        assert!(table.scaling(50.0075).contains("as large as it was typed"), "{}", table.scaling(50.0075));
        assert_eq!(table.scaling(100.015), "made 2.000 times as large, from 50.01 mm to 100.0 mm");
        assert_eq!(table.mismatch(), "back focus in the table 35.718 mm, traced 35.722 mm (+0.01 %)");
        assert_close!(table.back_focus_mm, 35.7223, absolute = 5e-5);
        let changed = OwnTable::read("mine", "Mine", &PASTED.replace("5.705", "5.7")).expect("a table");
        assert_eq!(changed.form(), None);
    }

    #[test]
    fn what_is_no_camera_lens_is_refused_with_the_fix() {
        let why = |text: &str| OwnTable::read("", "", text).expect_err("refused").to_string();
        assert!(why("stop 1 air\n-50 3 1.5\n50 - air").contains("signs of its radii"));
        assert!(why("50 3 1.5\n-50 - air").contains("write “stop”"));
        assert!(why("50 thick 1.5").contains("line 1"));
    }
}
