//! What a use asks for, as the notebook keeps it.

use serde::{Deserialize, Serialize};
use verdict::enough::{Bound, Limit, Quantity, Requirement, Source};
use verdict::{Need, seen_from_lp_mm};

/// The version that this program writes; it reads the first one too, which knew neither prints nor terms. Another one is refused by name
/// instead of being half understood.
pub const USE_VERSION: u32 = 2;

/// The requirements of a use: the text in the notebook's `uses`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UseDocument {
    /// [`USE_VERSION`] when it was written.
    pub version: u32,
    /// The print that it is for, where that is not the job's own.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub print: Option<PrintDocument>,
    /// What is asked for, all at once.
    pub requirements: Vec<RequirementDocument>,
}

/// A print of the whole frame, and how it is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PrintDocument {
    /// Its long side, mm; absent: as the job's.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub long_mm: Option<f64>,
    /// How fine the eye still sees in it.
    pub seen: Seen,
}

/// How fine the eye still sees in a print.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Seen {
    /// As the job says.
    AsJob,
    /// As fine as is seen from so many mm.
    FromMm(f64),
    /// So many line pairs per mm of paper.
    LpMm(f64),
}

impl PrintDocument {
    /// What the job asks, with this print instead of its own.
    pub fn need(&self, job: &Need) -> Need {
        let criterion_lp_mm = match self.seen {
            Seen::AsJob => job.criterion_lp_mm,
            Seen::FromMm(mm) => seen_from_lp_mm(mm),
            Seen::LpMm(lp_mm) => lp_mm,
        };
        Need { print_mm: self.long_mm.unwrap_or(job.print_mm), criterion_lp_mm, ..*job }
    }
}

/// In which terms a limit is given: those of resolution and colour fringing, and the fineness of a contrast.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Terms {
    /// On film: lp/mm, µm.
    #[default]
    Film,
    /// On the print: lp/mm, mm.
    Print,
    /// Against what is seen in the print, as a share: of the fineness, or of the width of the finest line pair.
    Seen,
}

impl Terms {
    /// All, in the order in which a page offers them.
    pub const ALL: [Self; 3] = [Self::Film, Self::Print, Self::Seen];

    /// Its word in forms and documents.
    pub fn word(self) -> &'static str {
        match self {
            Self::Film => "film",
            Self::Print => "print",
            Self::Seen => "seen",
        }
    }

    /// The one with this word.
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|terms| terms.word() == word)
    }

    fn is_film(&self) -> bool {
        *self == Self::Film
    }

    /// Fineness in these terms as lp/mm on film.
    fn film_lp_mm(self, fineness: f64, need: &Need) -> f64 {
        match self {
            Self::Film => fineness,
            Self::Print => need.film_lp_mm(fineness),
            Self::Seen => need.film_lp_mm(fineness * need.criterion_lp_mm),
        }
    }

    /// A width in these terms as µm on film.
    fn film_um(self, width: f64, need: &Need) -> f64 {
        match self {
            Self::Film => width,
            Self::Print => need.film_um(width),
            Self::Seen => need.film_um(width * need.finest_seen_mm()),
        }
    }
}

/// One limit. Figures on film hold at the size that the job wants: a frame taken smaller is judged at the same structure of the subject.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RequirementDocument {
    /// Of what.
    pub quantity: Asked,
    /// The share of contrast (0 to 1) of a resolution; the fineness (line pairs per mm on film) of a contrast; absent otherwise.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at: Option<f64>,
    /// On which side of the limit.
    pub side: Side,
    /// In which terms limit and fineness are given.
    #[serde(skip_serializing_if = "Terms::is_film", default)]
    pub terms: Terms,
    /// The limit: lp/mm or µm on film (or in its terms), a share (0 to 1), stops or mm.
    pub limit: f64,
    /// Half-width of the limit's own 95 % interval; 0 for a limit that is a decision.
    #[serde(default)]
    pub plus_minus: f64,
    /// From the centre out to this share of the way to the corner, 0 to 1.
    pub out_to: f64,
    /// Why.
    pub reason: String,
    /// Where it comes from: "common practice", "own choice", or the words of a source.
    pub source: String,
}

/// What can be asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Asked {
    /// Line pairs per mm on film at which a share of the contrast is left.
    Resolution,
    /// The share of contrast left at a fineness on film.
    Contrast,
    /// Red or blue beside green, µm on film.
    Fringing,
    /// Stray light in black over light from white.
    Glare,
    /// Fall-off, stops.
    Unevenness,
    /// Subject to the foremost part, mm.
    WorkingDistance,
    /// Stops lost to extension, converters and filters.
    LightLost,
    /// Shorter side of what the frame covers, mm.
    Field,
}

impl Asked {
    /// All, in the order in which a page offers them.
    pub const ALL: [Self; 8] = [
        Self::Resolution,
        Self::Contrast,
        Self::Fringing,
        Self::Glare,
        Self::Unevenness,
        Self::WorkingDistance,
        Self::LightLost,
        Self::Field,
    ];

    /// What a person calls it.
    pub fn label(self) -> &'static str {
        match self {
            Self::Resolution => "resolution on film",
            Self::Contrast => "contrast of fine detail",
            Self::Fringing => "colour fringing on film",
            Self::Glare => "veiling glare",
            Self::Unevenness => "fall-off of the light",
            Self::WorkingDistance => "room in front",
            Self::LightLost => "light lost",
            Self::Field => "shorter side of the field",
        }
    }

    /// Its unit; empty for a share.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Resolution => "lp/mm",
            Self::Contrast | Self::Glare => "",
            Self::Fringing => "µm",
            Self::Unevenness | Self::LightLost => "stops",
            Self::WorkingDistance | Self::Field => "mm",
        }
    }

    /// Its word in forms and documents.
    pub fn word(self) -> &'static str {
        match self {
            Self::Resolution => "resolution",
            Self::Contrast => "contrast",
            Self::Fringing => "fringing",
            Self::Glare => "glare",
            Self::Unevenness => "unevenness",
            Self::WorkingDistance => "working_distance",
            Self::LightLost => "light_lost",
            Self::Field => "field",
        }
    }

    /// The one with this word.
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|asked| asked.word() == word)
    }

    /// What [`RequirementDocument::at`] is of this one, and its unit; `None` where it has none.
    pub fn at_what(self) -> Option<&'static str> {
        match self {
            Self::Resolution => Some("share of contrast"),
            Self::Contrast => Some("lp/mm"),
            _ => None,
        }
    }

    /// Whether it differs from place to place in the frame.
    pub fn has_places(self) -> bool {
        matches!(self, Self::Resolution | Self::Contrast | Self::Fringing)
    }

    /// Whether it is seen in a print larger than it is on film, so that it can be given in the print's terms.
    pub fn is_enlarged(self) -> bool {
        matches!(self, Self::Resolution | Self::Contrast | Self::Fringing)
    }

    /// On which side it usually is wanted.
    pub fn usual_side(self) -> Side {
        match self {
            Self::Resolution | Self::Contrast | Self::WorkingDistance | Self::Field => Side::AtLeast,
            Self::Fringing | Self::Glare | Self::Unevenness | Self::LightLost => Side::AtMost,
        }
    }
}

/// On which side of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// At the limit or above.
    AtLeast,
    /// At the limit or below.
    AtMost,
}

impl Side {
    /// "at least" or "at most".
    pub fn words(self) -> &'static str {
        match self {
            Self::AtLeast => "at least",
            Self::AtMost => "at most",
        }
    }
}

/// Word for limits that nobody printed.
pub const COMMON_PRACTICE: &str = "common practice";
/// Word for limits of a person's own.
pub const OWN_CHOICE: &str = "own choice";

impl RequirementDocument {
    /// The same limit in film's terms.
    pub fn on_film(&self, need: &Need) -> Self {
        self.turned(|asked, number| match asked {
            Asked::Resolution | Asked::Contrast => self.terms.film_lp_mm(number, need),
            _ => self.terms.film_um(number, need),
        })
    }

    /// The same limit in the print's terms, where it has any.
    pub fn in_print(&self, need: &Need) -> Self {
        if !self.quantity.is_enlarged() {
            return self.clone();
        }
        let turned = self.on_film(need).turned(|asked, number| match asked {
            Asked::Resolution | Asked::Contrast => need.print_lp_mm(number),
            _ => need.on_print_mm(number),
        });
        Self { terms: Terms::Print, ..turned }
    }

    /// With everything that is a fineness or a width turned; all of them are turned in proportion, half-widths too.
    fn turned(&self, turn: impl Fn(Asked, f64) -> f64) -> Self {
        let turned = |number: f64| turn(self.quantity, number);
        let (at, limit, plus_minus) = match self.quantity {
            Asked::Resolution | Asked::Fringing => (self.at, turned(self.limit), turned(self.plus_minus)),
            Asked::Contrast => (self.at.map(turned), self.limit, self.plus_minus),
            _ => (self.at, self.limit, self.plus_minus),
        };
        Self { at, limit, plus_minus, terms: Terms::Film, ..self.clone() }
    }

    /// The quantity, its contrast or fineness on film as stated.
    pub fn quantity(&self) -> Quantity {
        let at = self.at.unwrap_or(f64::NAN);
        match self.quantity {
            Asked::Resolution => Quantity::Resolution { contrast: at },
            Asked::Contrast => Quantity::Contrast { lp_mm: at },
            Asked::Fringing => Quantity::Fringing,
            Asked::Glare => Quantity::Glare,
            Asked::Unevenness => Quantity::Unevenness,
            Asked::WorkingDistance => Quantity::WorkingDistance,
            Asked::LightLost => Quantity::LightLost,
            Asked::Field => Quantity::Field,
        }
    }

    /// As the judging crate takes it, figures on film as stated.
    pub fn requirement(&self) -> Requirement {
        let bound = match self.side {
            Side::AtLeast => Bound::AtLeast,
            Side::AtMost => Bound::AtMost,
        };
        let source = match self.source.as_str() {
            COMMON_PRACTICE => Source::CommonPractice,
            OWN_CHOICE => Source::OwnChoice,
            printed => Source::Published(printed.into()),
        };
        let limit = Limit { value: self.limit, plus_minus: self.plus_minus };
        Requirement {
            quantity: self.quantity(),
            bound,
            limit,
            out_to: self.out_to,
            reason: self.reason.clone(),
            source,
        }
    }

    /// Back; `None` for a quantity that no use asks for.
    pub fn of(requirement: &Requirement) -> Option<Self> {
        let (quantity, at) = match requirement.quantity {
            Quantity::Resolution { contrast } => (Asked::Resolution, Some(contrast)),
            Quantity::Contrast { lp_mm } => (Asked::Contrast, Some(lp_mm)),
            Quantity::Fringing => (Asked::Fringing, None),
            Quantity::Glare => (Asked::Glare, None),
            Quantity::Unevenness => (Asked::Unevenness, None),
            Quantity::WorkingDistance => (Asked::WorkingDistance, None),
            Quantity::LightLost => (Asked::LightLost, None),
            Quantity::Field => (Asked::Field, None),
            _ => return None,
        };
        let side = if requirement.bound == Bound::AtLeast { Side::AtLeast } else { Side::AtMost };
        let source = match &requirement.source {
            Source::Published(printed) => printed.clone(),
            Source::CommonPractice => COMMON_PRACTICE.into(),
            Source::OwnChoice => OWN_CHOICE.into(),
        };
        Some(Self {
            quantity,
            at,
            side,
            terms: Terms::Film,
            limit: requirement.limit.value,
            plus_minus: requirement.limit.plus_minus,
            out_to: requirement.out_to,
            reason: requirement.reason.clone(),
            source,
        })
    }
}

/// Why the text of a use cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum UnreadableUse {
    /// It is no such document.
    #[error("its limits cannot be read ({0})")]
    Text(#[from] serde_json::Error),
    /// Another version.
    #[error("its limits were written in form {0}; this program reads form {USE_VERSION}")]
    Version(u32),
}

impl UseDocument {
    /// Of these requirements.
    pub fn of(requirements: &[Requirement]) -> Self {
        Self {
            version: USE_VERSION,
            print: None,
            requirements: requirements.iter().filter_map(RequirementDocument::of).collect(),
        }
    }

    /// What its pictures need: the job's need, with the use's own print where it has one.
    pub fn need(&self, job: &Need) -> Need {
        self.print.map_or(*job, |print| print.need(job))
    }

    /// As the notebook keeps it.
    pub fn read(text: &str) -> Result<Self, UnreadableUse> {
        #[derive(Deserialize)]
        struct Head {
            version: u32,
        }
        match serde_json::from_str::<Head>(text)?.version {
            1 | USE_VERSION => Ok(serde_json::from_str(text)?),
            other => Err(UnreadableUse::Version(other)),
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use verdict::enough::{PictureSize, ready_made};

    #[test]
    fn every_ready_made_use_comes_back_as_it_was() {
        for use_ in ready_made(PictureSize { frame_mm: 56.0 }) {
            let document = UseDocument::of(&use_.requirements);
            let text = serde_json::to_string(&document).expect("text");
            let read = UseDocument::read(&text).expect("read");
            let back: Vec<Requirement> = read.requirements.iter().map(RequirementDocument::requirement).collect();
            assert_eq!(back, use_.requirements, "{}", use_.id);
        }
    }

    #[test]
    fn every_quantity_has_a_word_of_its_own() {
        for asked in Asked::ALL {
            assert_eq!(Asked::of(asked.word()), Some(asked));
        }
        let stated = |asked| RequirementDocument {
            quantity: asked,
            at: asked.at_what().map(|_| 0.3),
            side: asked.usual_side(),
            terms: Terms::Film,
            limit: 1.0,
            plus_minus: 0.0,
            out_to: 1.0,
            reason: String::new(),
            source: OWN_CHOICE.into(),
        };
        for asked in Asked::ALL {
            let there = stated(asked);
            assert_eq!(RequirementDocument::of(&there.requirement()), Some(there));
            assert_eq!(stated(asked).requirement().bound, stated(asked).quantity().usual_bound());
        }
    }

    /// A job that wants 0.98 life size: 254 mm from 56 mm, enlarged 4.5357 times; 5 lp/mm are seen.
    pub(crate) fn need() -> Need {
        Need {
            subject_mm: 40.0,
            fill: 0.7,
            frame_mm: [56.0, 56.0],
            print_mm: 254.0,
            criterion_lp_mm: 5.0,
            contrast: 0.2,
        }
    }

    fn asks(quantity: Asked, terms: Terms, limit: f64) -> RequirementDocument {
        RequirementDocument {
            quantity,
            at: quantity.at_what().map(|_| 0.3),
            side: quantity.usual_side(),
            terms,
            limit,
            plus_minus: limit / 10.0,
            out_to: 0.9,
            reason: String::new(),
            source: OWN_CHOICE.into(),
        }
    }

    #[test]
    fn what_is_said_of_a_print_is_turned_into_film() {
        // Own arithmetic: 0.1 mm / 4.5357 = 22.05 µm; half of the finest pair, 0.2 mm, is 0.1 mm again.
        for (terms, limit) in [(Terms::Film, 22.047_244), (Terms::Print, 0.1), (Terms::Seen, 0.5)] {
            let film = asks(Asked::Fringing, terms, limit).on_film(&need());
            testkit::assert_close!(film.limit, 22.047_244, relative = 1e-7);
            testkit::assert_close!(film.plus_minus, 2.204_724_4, relative = 1e-7);
            assert_eq!(film.terms, Terms::Film);
        }
        // 4 lp/mm on paper, and 80 % of the 5 that are seen, are 18.143 lp/mm on film.
        for (terms, limit) in [(Terms::Film, 18.142_857), (Terms::Print, 4.0), (Terms::Seen, 0.8)] {
            let film = asks(Asked::Resolution, terms, limit).on_film(&need());
            testkit::assert_close!(film.limit, 18.142_857, relative = 1e-7);
            assert_eq!(film.at, Some(0.3));
        }
        // Of a contrast the fineness is turned, and nothing else.
        let contrast = RequirementDocument { at: Some(4.0), ..asks(Asked::Contrast, Terms::Print, 0.3) };
        let film = contrast.on_film(&need());
        testkit::assert_close!(film.at.expect("a fineness"), 18.142_857, relative = 1e-7);
        testkit::assert_close!(film.limit, 0.3, relative = 1e-12);
        assert_eq!(film.in_print(&need()).at.map(|at| (at * 1e6).round() / 1e6), Some(4.0));
        // And what no print shows larger stays.
        for quantity in Asked::ALL.into_iter().filter(|asked| !asked.is_enlarged()) {
            let asked = asks(quantity, Terms::Film, 3.0);
            assert_eq!((asked.on_film(&need()), asked.in_print(&need())), (asked.clone(), asked.clone()));
        }
    }

    #[test]
    fn a_print_of_its_own_stands_in_for_the_jobs() {
        let print = |long_mm, seen| PrintDocument { long_mm, seen }.need(&need());
        let wall = print(Some(600.0), Seen::FromMm(500.0));
        testkit::assert_close!(wall.criterion_lp_mm, 2.5, relative = 1e-12);
        testkit::assert_close!(wall.enlargement(), 600.0 / 56.0, relative = 1e-12);
        assert_eq!(print(None, Seen::AsJob), need());
        assert_eq!(print(None, Seen::LpMm(6.0)), Need { criterion_lp_mm: 6.0, ..need() });
    }

    #[test]
    fn the_first_form_is_still_read() {
        let first = r#"{"version":1,"requirements":[{"quantity":"fringing","side":"at_most","limit":37,"out_to":0.9,
            "reason":"r","source":"own choice"}]}"#;
        let read = UseDocument::read(first).expect("read");
        assert_eq!((read.print, read.requirements[0].terms), (None, Terms::Film));
        // What is written now says so, and comes back.
        let print = Some(PrintDocument { long_mm: Some(300.0), seen: Seen::FromMm(250.0) });
        let now =
            UseDocument { version: USE_VERSION, print, requirements: vec![asks(Asked::Fringing, Terms::Seen, 0.5)] };
        let text = serde_json::to_string(&now).expect("text");
        assert_eq!(UseDocument::read(&text).expect("read"), now);
        assert!(text.contains("\"version\":2"), "{text}");
    }

    #[test]
    fn other_versions_and_other_texts_are_refused_by_name() {
        assert!(matches!(UseDocument::read("{\"version\": 7, \"limits\": []}"), Err(UnreadableUse::Version(7))));
        for wrong in ["", "[]", "{}", "{\"version\": 1}"] {
            assert!(matches!(UseDocument::read(wrong), Err(UnreadableUse::Text(_))), "{wrong}");
        }
    }
}
