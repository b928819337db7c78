//! Design forms from patents and textbooks, as printed, with what was printed about them.
//!
//! A form is not anybody's lens: it tells how attachments change a lens of its kind, not how good a certain one is. Where
//! a table does not give the focal length that is printed beside it, [`Form::mismatch`] says by how much; nothing is
//! adjusted. All tables but the one of US 3,961,844 (read in the patent's own claim) were read in public transcriptions.

use crate::{Medium, Prescription, Row, Rule, Surface, Wavelength};

/// What kind of lens a form is, in the words of textbooks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Two glasses: an achromat.
    Doublet,
    /// Four glasses in three groups, one group cemented: derived from the triplet.
    TripletDerived,
    /// Two meniscus groups around the stop, each with a cemented or near-cemented negative.
    DoubleGauss,
    /// Two separated positive groups.
    Petzval,
    /// A positive group far in front of a negative one: shorter than its focal length.
    Telephoto,
    /// A negative group in front: back focus longer than the focal length.
    Retrofocus,
    /// A strong negative element near the film.
    FieldFlattened,
    /// Two halves that mirror each other about the stop.
    Symmetrical,
}

/// One printed row: radius (0 a plane), gap, index behind (1 air), V behind (0 not printed), clear half diameter (0 not
/// printed).
type Printed = (f64, f64, f64, f64, f64);

/// A design form with its source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Form {
    /// A short name for choosing it by.
    pub key: &'static str,
    /// What it is, in trade terms.
    pub name: &'static str,
    /// Its kind.
    pub kind: Kind,
    /// Where the table was printed.
    pub source: &'static str,
    /// How many glass elements.
    pub elements: usize,
    /// Focal length in the table's own unit, where one is printed.
    pub published_focal_length: Option<f64>,
    /// Back focus, likewise.
    pub published_back_focus: Option<f64>,
    /// The widest stop that is printed.
    pub published_f_number: Option<f64>,
    /// What a person should know about the table.
    pub remark: &'static str,
    rows: &'static [Printed],
    /// Which row is the stop (counted from 1), or, where its place is not printed, the row and the share of the gap behind
    /// it where we put it.
    stop: Stop,
    rule: Rule,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Stop {
    Row(usize),
    Within(usize, f64),
    First,
}

/// Traced beside printed, as shares of the printed figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mismatch {
    /// Focal length as traced, in the table's unit.
    pub focal_length: f64,
    /// Back focus as traced.
    pub back_focus: f64,
    /// Traced over printed focal length, less 1.
    pub focal_length_off: Option<f64>,
    /// Traced over printed back focus, less 1.
    pub back_focus_off: Option<f64>,
}

impl Form {
    /// The form as printed, in the table's own unit (mm, unless [`Form::remark`] says otherwise).
    pub fn prescription(&self) -> Prescription {
        let last = self.rows.len() - 1;
        let mut rows: Vec<Row> = self.rows.iter().enumerate().map(|(i, row)| self.row(row, i == last)).collect();
        match self.stop {
            Stop::Row(row) => rows[row - 1].stop = true,
            Stop::First => rows[0].stop = true,
            Stop::Within(..) => {}
        }
        let checked = Prescription::new(rows).and_then(|lens| match self.stop {
            Stop::Within(row, share) => lens.with_stop(row, share * self.rows[row - 1].1),
            _ => Ok(lens),
        });
        checked.unwrap_or_else(|refusal| unreachable!("{}: {refusal}; a test builds every form", self.key))
    }

    fn row(&self, &(radius, gap, index, abbe, semi): &Printed, last: bool) -> Row {
        let surface = if radius == 0.0 { Surface::PLANE } else { Surface::sphere(radius) };
        let after = match (index, abbe) {
            (1.0, _) => Medium::Air,
            (index, 0.0) => Medium::Constant(index),
            (index, abbe) => Medium::Abbe { index, abbe, rule: self.rule },
        };
        let semi_aperture_mm = (semi > 0.0).then_some(semi);
        Row { semi_aperture_mm, ..Row::new(surface, (!last).then_some(gap), after) }
    }

    /// Whether every glass's change with colour is printed: without it a form shows no colour at all.
    pub fn dispersion_known(&self) -> bool {
        self.prescription().dispersion_known()
    }

    /// Traced beside printed.
    pub fn mismatch(&self) -> Mismatch {
        let cardinal = self.prescription().at(Wavelength::D).cardinal();
        let (focal_length, back_focus) = cardinal.map_or((0.0, 0.0), |of| (of.focal_length_mm, of.back_focus_mm));
        let off = |traced: f64, printed: Option<f64>| printed.map(|printed| traced / printed - 1.0);
        Mismatch {
            focal_length,
            back_focus,
            focal_length_off: off(focal_length, self.published_focal_length),
            back_focus_off: off(back_focus, self.published_back_focus),
        }
    }

    /// The form made as large as a lens of that focal length, mm.
    pub fn scaled_to(&self, focal_length_mm: f64) -> Result<Prescription, crate::PrescriptionError> {
        self.prescription().scaled(focal_length_mm / self.mismatch().focal_length)
    }
}

/// A form by its key.
pub fn form(key: &str) -> Option<&'static Form> {
    FORMS.iter().find(|form| form.key == key)
}

/// The telescope objective's rows are inches; every other table is millimetres or scaled to the focal length printed.
#[rustfmt::skip]
pub const FORMS: &[Form] = &[
    Form {
        key: "triplet-derived-1903", name: "four elements in three groups, cemented rear", kind: Kind::TripletDerived,
        source: "US patent 721,240 (1903), P. Rudolph, f/5.5", elements: 4,
        published_focal_length: Some(1.0), published_back_focus: None, published_f_number: Some(5.5),
        remark: "Radii are printed to three decimals of the focal length; indices at the D line, no dispersion.",
        rows: &[
            (0.215, 0.033, 1.61132, 0.0, 0.0), (0.0, 0.019, 1.0, 0.0, 0.0), (-0.742, 0.011, 1.60457, 0.0, 0.0),
            (0.208, 0.030, 1.0, 0.0, 0.0), (0.0, 0.030, 1.0, 0.0, 0.0), (-1.113, 0.011, 1.52110, 0.0, 0.0),
            (0.252, 0.030, 1.61132, 0.0, 0.0), (-0.367, 0.0, 1.0, 0.0, 0.0),
        ],
        stop: Stop::Row(5), rule: Rule::NormalLine,
    },
    Form {
        key: "double-gauss-1930", name: "double Gauss, f/1.4", kind: Kind::DoubleGauss,
        source: "US patent 1,786,916 (1930), example 2, W. Merté", elements: 6,
        published_focal_length: Some(100.0), published_back_focus: None, published_f_number: Some(1.4),
        remark: "The stop lies between the two halves; its place is not printed and was put in the middle of the gap.",
        rows: &[
            (83.6, 10.75, 1.64238, 48.0, 0.0), (321.0, 1.65, 1.0, 0.0, 0.0), (44.8, 15.55, 1.62306, 56.9, 0.0),
            (-1150.0, 5.05, 1.57566, 41.2, 0.0), (28.3, 18.9, 1.0, 0.0, 0.0), (-38.5, 5.05, 1.67270, 32.2, 0.0),
            (50.5, 21.22, 1.64238, 48.0, 0.0), (-53.2, 0.97, 1.0, 0.0, 0.0), (106.0, 13.9, 1.64238, 48.0, 0.0),
            (-120.0, 0.0, 1.0, 0.0, 0.0),
        ],
        stop: Stop::Within(5, 0.5), rule: Rule::NormalLine,
    },
    Form {
        key: "double-gauss-1954", name: "double Gauss, f/2", kind: Kind::DoubleGauss,
        source: "US patent 2,673,491 (1954), A. W. Tronnier; also W. J. Smith, Modern Lens Design, p. 312", elements: 6,
        published_focal_length: Some(50.0), published_back_focus: Some(35.718), published_f_number: Some(2.0),
        remark: "Scaled to 50 mm. Clear diameters are those of a rendering textbook's data file, not the patent's.",
        rows: &[
            (29.475, 3.76, 1.67125, 47.1, 12.6), (84.83, 0.12, 1.0, 0.0, 12.6), (19.275, 4.025, 1.67125, 47.1, 11.5),
            (40.77, 3.275, 1.69842, 30.1, 11.5), (12.75, 5.705, 1.0, 0.0, 9.0), (0.0, 4.5, 1.0, 0.0, 8.55),
            (-14.495, 1.18, 1.60266, 38.4, 8.5), (40.77, 6.065, 1.65953, 57.0, 10.0), (-20.385, 0.19, 1.0, 0.0, 10.0),
            (437.065, 3.22, 1.71740, 48.1, 10.0), (-39.73, 0.0, 1.0, 0.0, 10.0),
        ],
        stop: Stop::Row(6), rule: Rule::NormalLine,
    },
    Form {
        key: "double-gauss-fast", name: "double Gauss of eight elements, very fast", kind: Kind::DoubleGauss,
        source: "US patent 2,701,982, scaled to 50 mm", elements: 8,
        published_focal_length: Some(50.0), published_back_focus: Some(27.9), published_f_number: None,
        remark: "Indices rounded to three digits in the transcription, no dispersion.",
        rows: &[
            (82.1, 5.5, 1.67, 0.0, 0.0), (280.0, 0.115, 1.0, 0.0, 0.0), (50.1, 5.73, 1.67, 0.0, 0.0),
            (107.0, 0.115, 1.0, 0.0, 0.0), (29.0, 11.5, 1.69, 0.0, 0.0), (1280.0, 1.29, 1.67, 0.0, 0.0),
            (16.2, 7.83, 1.0, 0.0, 0.0), (0.0, 7.5, 1.0, 0.0, 0.0), (-20.2, 1.37, 1.70, 0.0, 0.0),
            (96.5, 14.0, 1.62, 0.0, 0.0), (-27.8, 0.115, 1.0, 0.0, 0.0), (96.5, 3.99, 1.69, 0.0, 0.0),
            (-113.0, 0.115, 1.0, 0.0, 0.0), (87.6, 4.24, 1.69, 0.0, 0.0), (-102.0, 0.0, 1.0, 0.0, 0.0),
        ],
        stop: Stop::Row(8), rule: Rule::NormalLine,
    },
    Form {
        key: "cemented-front-four", name: "four elements, cemented front", kind: Kind::TripletDerived,
        source: "US patent 2,854,889, f = 100, f/6.7", elements: 4,
        published_focal_length: Some(100.0), published_back_focus: Some(79.8), published_f_number: Some(6.7),
        remark: "Indices rounded to three digits in the transcription (hence one per cent), no dispersion.",
        rows: &[
            (43.0, 9.8, 1.69, 0.0, 0.0), (-115.0, 2.1, 1.55, 0.0, 0.0), (307.0, 4.16, 1.0, 0.0, 0.0),
            (0.0, 4.0, 1.0, 0.0, 0.0), (-59.1, 1.87, 1.64, 0.0, 0.0), (40.9, 10.6, 1.0, 0.0, 0.0),
            (184.0, 7.05, 1.69, 0.0, 0.0), (-48.9, 0.0, 1.0, 0.0, 0.0),
        ],
        stop: Stop::Row(4), rule: Rule::NormalLine,
    },
    Form {
        key: "projection-petzval", name: "two separated doublets", kind: Kind::Petzval,
        source: "US patent 2,500,046, scaled by one half", elements: 4,
        published_focal_length: Some(43.0), published_back_focus: Some(24.3), published_f_number: None,
        remark: "Rounded in the transcription: the back focus is 2 % off. No dispersion.",
        rows: &[
            (30.5, 6.46, 1.52, 0.0, 0.0), (-24.4, 1.94, 1.62, 0.0, 0.0), (1e5, 10.3, 1.0, 0.0, 0.0),
            (0.0, 10.9, 1.0, 0.0, 0.0), (51.6, 1.64, 1.65, 0.0, 0.0), (17.6, 0.387, 1.0, 0.0, 0.0),
            (20.2, 3.19, 1.70, 0.0, 0.0), (-121.0, 0.0, 1.0, 0.0, 0.0),
        ],
        stop: Stop::Row(4), rule: Rule::NormalLine,
    },
    Form {
        key: "telephoto", name: "telephoto, f/5.6", kind: Kind::Telephoto,
        source: "W. J. Smith, Modern Lens Design, p. 175, scaled to 250 mm", elements: 4,
        published_focal_length: Some(250.0), published_back_focus: None, published_f_number: Some(5.6),
        remark: "From a renderer's data file: indices to three digits, no dispersion.",
        rows: &[
            (54.6275, 12.52, 1.529, 0.0, 23.75), (-86.365, 3.755, 1.599, 0.0, 22.25), (271.7625, 2.8175, 1.0, 0.0, 20.75),
            (0.0, 67.4125, 1.0, 0.0, 20.25), (-32.13, 3.755, 1.613, 0.0, 15.75), (49.5325, 12.52, 1.603, 0.0, 16.75),
            (-50.945, 0.0, 1.0, 0.0, 18.5),
        ],
        stop: Stop::Row(4), rule: Rule::NormalLine,
    },
    Form {
        key: "fisheye", name: "fisheye (retrofocus)", kind: Kind::Retrofocus,
        source: "W. J. Smith, Modern Lens Design, p. 164, scaled to 10 mm", elements: 6,
        published_focal_length: Some(10.0), published_back_focus: None, published_f_number: None,
        remark: "From a renderer's data file: indices to three digits, no dispersion.",
        rows: &[
            (30.2249, 0.8335, 1.62, 0.0, 0.0), (11.3931, 7.4136, 1.0, 0.0, 0.0), (75.2019, 1.0654, 1.639, 0.0, 0.0),
            (8.3349, 11.1549, 1.0, 0.0, 0.0), (9.5882, 2.0054, 1.654, 0.0, 0.0), (43.8677, 5.3895, 1.0, 0.0, 0.0),
            (0.0, 1.4163, 1.0, 0.0, 0.0), (29.4541, 2.1934, 1.517, 0.0, 0.0), (-5.2265, 0.9714, 1.805, 0.0, 0.0),
            (-14.2884, 0.0627, 1.0, 0.0, 0.0), (-22.3726, 0.94, 1.673, 0.0, 0.0), (-15.0404, 0.0, 1.0, 0.0, 0.0),
        ],
        stop: Stop::Row(7), rule: Rule::NormalLine,
    },
    Form {
        key: "field-flattened", name: "four elements behind the stop, with a field flattener", kind: Kind::FieldFlattened,
        source: "US patent 3,961,844 (1976), claim 1", elements: 4,
        published_focal_length: Some(23.5), published_back_focus: Some(1.0), published_f_number: None,
        remark: "The printed 1.0 to the film is not the traced back focus of 0.71: a finite focus, or rounding. The first \
                 element's 1.694 with V 30.9 is as printed, and unusual. The stop is in front; it was put at the first vertex.",
        rows: &[
            (10.05, 2.08, 1.694, 30.9, 0.0), (-66.137, 0.23, 1.0, 0.0, 0.0), (-20.40, 2.00, 1.792, 25.5, 0.0),
            (10.616, 2.095, 1.0, 0.0, 0.0), (27.597, 2.15, 1.643, 59.9, 0.0), (-12.989, 18.02, 1.0, 0.0, 0.0),
            (-13.755, 1.50, 1.491, 58.4, 0.0), (0.0, 0.0, 1.0, 0.0, 0.0),
        ],
        stop: Stop::First, rule: Rule::NormalLine,
    },
    Form {
        key: "cemented-doublet", name: "cemented achromat", kind: Kind::Doublet,
        source: "R. Kingslake, Lens Design Fundamentals, 1st ed., p. 28", elements: 2,
        published_focal_length: None, published_back_focus: Some(11.28586), published_f_number: None,
        remark: "An objective of 12 units focal length, no dispersion. The stop was put at the first vertex.",
        rows: &[
            (1.0 / 0.1353271, 1.05, 1.517, 0.0, 0.0), (-1.0 / 0.1931098, 0.4, 1.649, 0.0, 0.0),
            (-1.0 / 0.0616427, 0.0, 1.0, 0.0, 0.0),
        ],
        stop: Stop::First, rule: Rule::NormalLine,
    },
    Form {
        key: "air-spaced-achromat", name: "air-spaced achromat of a telescope", kind: Kind::Doublet,
        source: "J. H. Wyld, in Amateur Telescope Making, Book 3; reference results of a public-domain floating-point benchmark",
        elements: 2,
        published_focal_length: None, published_back_focus: Some(47.08372160249), published_f_number: None,
        remark: "In inches, clear diameter 4; indices at D, dispersion straight in wavelength as its reference results have it.",
        rows: &[
            (27.05, 0.52, 1.5137, 63.6, 0.0), (-16.68, 0.138, 1.0, 0.0, 0.0), (-16.68, 0.38, 1.6164, 36.7, 0.0),
            (-78.1, 0.0, 1.0, 0.0, 0.0),
        ],
        stop: Stop::First, rule: Rule::Straight,
    },
    Form {
        key: "symmetrical", name: "symmetrical, two mirrored halves", kind: Kind::Symmetrical,
        source: "our own construction: the front half of US 2,673,491 and its mirror image about the stop", elements: 6,
        published_focal_length: None, published_back_focus: None, published_f_number: None,
        remark: "No published source. At life size it has no distortion, coma or lateral colour, as every symmetrical lens.",
        rows: &[
            (29.475, 3.76, 1.67125, 47.1, 12.6), (84.83, 0.12, 1.0, 0.0, 12.6), (19.275, 4.025, 1.67125, 47.1, 11.5),
            (40.77, 3.275, 1.69842, 30.1, 11.5), (12.75, 5.1, 1.0, 0.0, 9.0), (0.0, 5.1, 1.0, 0.0, 8.55),
            (-12.75, 3.275, 1.69842, 30.1, 9.0), (-40.77, 4.025, 1.67125, 47.1, 11.5), (-19.275, 0.12, 1.0, 0.0, 11.5),
            (-84.83, 3.76, 1.67125, 47.1, 12.6), (-29.475, 0.0, 1.0, 0.0, 12.6),
        ],
        stop: Stop::Row(6), rule: Rule::NormalLine,
    },
];
