//! Pocket cards: what a set-up gives over its draw or travel, small enough to carry, on paper or on a phone.

mod paper;
mod phone;

pub use paper::{Paper, on_paper};
pub use phone::on_phone;

use kit::{Facing, Focus, Kind, Kit, Part, Setup, SetupError, SetupRequest};
use optics::{Estimate, Figure};

use crate::web::kit_book::set_up_name;

/// Rows of a printed card: as many as an A6 page holds in letters that can be read at arm's length.
pub const ROWS: usize = 9;

/// Rows of the page on a phone, which can be scrolled.
pub const FINE_ROWS: usize = 41;

/// Columns of depth on a printed card.
const STOPS: usize = 3;

/// Whole stops as they are engraved (ISO 517's series; from memory).
const WHOLE_STOPS: [f64; 13] = [1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0, 45.0, 64.0];

/// What is turned, pulled or slid on the set-up while it is used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// The bellows's draw, mm.
    Draw,
    /// The lens's own travel from its infinity mark, mm.
    Travel,
    /// The distance on the lens's own scale, mm.
    Distance,
    /// Nothing: the set-up has one size.
    Fixed,
}

impl Scale {
    /// Its name at the head of a column.
    pub fn label(self) -> &'static str {
        match self {
            Self::Draw => "draw",
            Self::Travel => "travel",
            Self::Distance => "scale",
            Self::Fixed => "",
        }
    }
}

/// What one setting gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Draw, travel or distance, mm; nothing where there is nothing to set.
    pub setting_mm: Option<f64>,
    /// Size on film over size of the subject; 0 at infinity.
    pub magnification: Estimate,
    /// Width and height of the subject plane that the frame covers, mm; nothing at infinity.
    pub field_mm: Option<[f64; 2]>,
    /// Subject to the part of the set-up that faces it, mm; nothing at infinity.
    pub working_mm: Option<Estimate>,
    /// Light lost against the engraved f-number, stops.
    pub stops: Estimate,
    /// Depth of field in all at each of the card's f-numbers, mm; nothing where it reaches to infinity.
    pub depths_mm: Vec<Option<f64>>,
}

/// One set-up's card.
#[derive(Debug, Clone, PartialEq)]
pub struct PocketCard {
    /// The set-up's name: its parts without the body.
    pub name: String,
    /// The body.
    pub body: String,
    /// What is set.
    pub scale: Scale,
    /// Engraved f-numbers for the depth.
    pub f_numbers: Vec<f64>,
    /// The largest disc on film that counts as sharp, mm.
    pub coc_mm: f64,
    /// By rising extension: from far to near.
    pub rows: Vec<Row>,
    /// Whether a default of the kit is used where the true figure is not known.
    pub assumed: bool,
    /// What to know of the set-up before relying on the card.
    pub warnings: Vec<String>,
}

/// Why there is no card.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PocketError {
    /// The parts make no set-up.
    #[error("{0}")]
    Setup(#[from] SetupError),
    /// An f-number that the lens does not have.
    #[error("f/{found} is not on the lens “{lens}”: it has f/{widest} to f/{smallest}")]
    Stop {
        /// The lens.
        lens: String,
        /// What was asked for.
        found: f64,
        /// Its widest.
        widest: f64,
        /// Its smallest.
        smallest: f64,
    },
}

/// A correction of long exposures for the cards: what the meter says, and what to expose, s.
#[derive(Debug, Clone, PartialEq)]
pub struct Correction {
    /// The film and where the figures are from, in a few words.
    pub film: String,
    /// Time metered, after all else was counted, and time to expose; whether it lies within what the source covers.
    pub times_s: Vec<(f64, f64, bool)>,
}

/// Metered times on paper, s: whole stops as shutters are engraved, from where most films begin to lose speed.
const PAPER_TIMES_S: [f64; 7] = [1.0, 2.0, 4.0, 8.0, 15.0, 30.0, 60.0];

/// Metered times for a phone, s: with the times at which makers print their tables, so that lines between them meet the tables'.
const PHONE_TIMES_S: [f64; 13] = [0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 10.0, 15.0, 30.0, 60.0, 100.0, 120.0];

impl Correction {
    /// The film's law that is used, at the times of a printed card. Nothing where no law is known.
    pub fn on_paper(film: &film::Film) -> Option<Self> {
        Self::at(film, &PAPER_TIMES_S)
    }

    /// The same at more times, which the page for a phone joins by lines.
    pub fn on_phone(film: &film::Film) -> Option<Self> {
        Self::at(film, &PHONE_TIMES_S)
    }

    fn at(film: &film::Film, times_s: &[f64]) -> Option<Self> {
        let law = film.law()?;
        let time = |metered: &f64| {
            let given = law.given(*metered);
            (*metered, given.time_s, given.place == film::Where::Inside)
        };
        let named = format!("{} ({}; {})", film.name, law.source.words(), law.source.standing());
        Some(Self { film: named, times_s: times_s.iter().map(time).collect() })
    }
}

/// A card of `request`'s parts with at most so many rows; depth at `f_numbers`, or at the smallest whole stops of the lens.
pub fn card(kit: &Kit, request: &SetupRequest, f_numbers: &[f64], most: usize) -> Result<PocketCard, PocketError> {
    let request = &drawn_out(kit, request);
    let setup = Setup::resolve(kit, request)?;
    let stops = if f_numbers.is_empty() { usual_stops(setup.lens()) } else { f_numbers.to_vec() };
    check_stops(setup.lens(), &stops)?;
    let (scale, settings) = settings(kit, request, &setup, most);
    let rows: Vec<_> =
        settings.iter().map(|setting| row(kit, &set(kit, request, scale, *setting), *setting, &stops)).collect();
    let (rows, refused): (Vec<_>, Vec<_>) = rows.into_iter().partition(Result::is_ok);
    let left_out = refused.len();
    if let (true, Some(why)) = (rows.is_empty(), refused.into_iter().find_map(Result::err)) {
        return Err(why.into());
    }
    let rows: Vec<Row> = rows.into_iter().flatten().collect();
    let mut warnings = Vec::new();
    if left_out > 0 {
        warnings.push(format!("{left_out} settings give no picture of a subject in front, and are left out."));
    }
    let id = request.parts.first().map(String::as_str).unwrap_or_default();
    Ok(PocketCard {
        name: set_up_name(kit, &shown_parts(kit, request, scale)),
        body: crate::web::kit_book::part_name(kit, id),
        scale,
        f_numbers: stops,
        coc_mm: setup.coc_mm(),
        assumed: setup.report().is_ok_and(|report| !report.assumed.is_empty()),
        rows,
        warnings,
    })
}

/// The request with a bellows whose draw is not said at its shortest.
fn drawn_out(kit: &Kit, request: &SetupRequest) -> SetupRequest {
    let mut request = request.clone();
    for word in request.parts.iter_mut().filter(|word| !word.contains('=')) {
        if let Some(shortest) = bellows(kit, word).and_then(|part| part.numbers("draw_mm").first().copied()) {
            *word = format!("{word}={shortest}");
        }
    }
    request
}

/// The parts as they are named on the card: a bellows whose draw is the scale goes without one.
fn shown_parts(kit: &Kit, request: &SetupRequest, scale: Scale) -> Vec<String> {
    let is_scale = |word: &str| scale == Scale::Draw && bellows(kit, word).is_some();
    let bare = |word: &String| word.split('=').next().unwrap_or_default().to_owned();
    request.parts.iter().map(|word| if is_scale(word) { bare(word) } else { word.clone() }).collect()
}

fn bellows<'a>(kit: &'a Kit, word: &str) -> Option<&'a Part> {
    kit.part(word.split('=').next()?).filter(|part| part.kind() == Kind::Bellows)
}

/// The smallest whole stops of a lens: close up, depth is what is short.
fn usual_stops(lens: &Part) -> Vec<f64> {
    let [widest, smallest] = ends(lens);
    let has: Vec<f64> = WHOLE_STOPS.into_iter().filter(|n| *n > widest * 0.97 && *n < smallest * 1.03).collect();
    if has.is_empty() { vec![widest] } else { has[has.len().saturating_sub(STOPS)..].to_vec() }
}

fn ends(lens: &Part) -> [f64; 2] {
    // Without a smallest stop in the kit none is refused; 22 is where the usual columns end (common practice, no source).
    [lens.number("max_aperture").unwrap_or(1.0), lens.number("min_aperture").unwrap_or(22.0)]
}

fn check_stops(lens: &Part, stops: &[f64]) -> Result<(), PocketError> {
    let [widest, smallest] = ends(lens);
    let known = lens.number("min_aperture").is_some();
    let wrong = |n: &&f64| !n.is_finite() || **n < widest * 0.97 || (known && **n > smallest * 1.03);
    match stops.iter().find(wrong) {
        None => Ok(()),
        Some(found) => Err(PocketError::Stop { lens: lens.name().to_owned(), found: *found, widest, smallest }),
    }
}

/// What is set on the set-up, and at which places, mm.
fn settings(kit: &Kit, request: &SetupRequest, setup: &Setup<'_>, most: usize) -> (Scale, Vec<Option<f64>>) {
    let some = |low, high| rounds(low, high, most).into_iter().map(Some).collect();
    let draws = request.parts.iter().find_map(|word| bellows(kit, word)).map(|part| part.numbers("draw_mm"));
    if let Some(&[shortest, longest]) = draws.as_deref() {
        return (Scale::Draw, some(shortest, longest));
    }
    // The travel of a lens turned round moves its mount, not its glass.
    if setup.hold().facing == Facing::Reversed {
        return (Scale::Fixed, vec![None]);
    }
    if setup.lens().words("focusing") == Some("internal") {
        return match setup.lens().number("close_focus_mm") {
            Some(closest) => (Scale::Distance, distances(closest, most).into_iter().map(Some).collect()),
            None => (Scale::Fixed, vec![None]),
        };
    }
    match setup.largest_travel().filter(|travel| *travel > 0.0) {
        Some(travel) => (Scale::Travel, some(0.0, travel)),
        None => (Scale::Fixed, vec![None]),
    }
}

/// Distances of a scale from far to near: equal steps of their inverse, as such scales are divided.
fn distances(closest: f64, most: usize) -> Vec<f64> {
    let steps = most.max(2) as f64 - 1.0;
    let at = |i: usize| closest * steps / i as f64;
    (1..most.max(2)).map(|i| two_digits(at(i)).max(closest)).collect()
}

fn two_digits(mm: f64) -> f64 {
    let unit = 10f64.powf(mm.log10().floor() - 1.0);
    (mm / unit).round() * unit
}

/// Round numbers from `low` to `high` with both ends, at most so many.
fn rounds(low: f64, high: f64, most: usize) -> Vec<f64> {
    let room = most.max(3) as f64 - 2.0;
    let rough = (high - low) / room;
    let unit = 10f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 2.5, 5.0, 10.0].map(|k| k * unit).into_iter().find(|step| *step >= rough * 0.999_999);
    let step = step.unwrap_or(10.0 * unit);
    let inner = (0..=most).map(|i| ((low / step).floor() + i as f64) * step);
    // What lies within a third of a step of an end would only repeat it.
    let inner = inner.filter(|mm| *mm > low + step / 3.0 && *mm < high - step / 3.0);
    std::iter::once(low).chain(inner).chain(std::iter::once(high)).collect()
}

/// The request with the scale set there.
fn set(kit: &Kit, request: &SetupRequest, scale: Scale, setting: Option<f64>) -> SetupRequest {
    let mut set = request.clone();
    match (scale, setting) {
        (Scale::Draw, Some(mm)) => {
            // Of two bellows the one next to the body is drawn out; the other keeps what was asked for.
            if let Some(word) = set.parts.iter_mut().find(|word| bellows(kit, word).is_some()) {
                *word = format!("{}={mm}", word.split('=').next().unwrap_or_default());
            }
        }
        (Scale::Travel, Some(mm)) => set.focus = if mm > 0.0 { Focus::Travel(mm) } else { Focus::Infinity },
        (Scale::Distance, Some(mm)) => set.focus = Focus::Distance(mm),
        _ => (),
    }
    set
}

fn row(kit: &Kit, request: &SetupRequest, setting_mm: Option<f64>, stops: &[f64]) -> Result<Row, SetupError> {
    let at = |f_number| {
        let request = SetupRequest { f_number, ..request.clone() };
        Setup::resolve(kit, &request)?.report()
    };
    let report = at(stops.first().copied())?;
    let figure = |figure| report.figures.get(figure);
    let sides = figure(Figure::FieldWidth).zip(figure(Figure::FieldHeight));
    let depth = |stop: &f64| Ok(at(Some(*stop))?.figures.get(Figure::DepthOfField).map(|depth| depth.value));
    let magnification = figure(Figure::Magnification).ok_or(SetupError::Beyond(Figure::Magnification.label()))?;
    let stops_lost = figure(Figure::ExposureStops).ok_or(SetupError::Beyond(Figure::ExposureStops.label()))?;
    Ok(Row {
        setting_mm,
        magnification,
        field_mm: sides.map(|(width, height)| [width.value, height.value]),
        working_mm: figure(Figure::WorkingDistance),
        stops: stops_lost,
        depths_mm: stops.iter().map(depth).collect::<Result<_, SetupError>>()?,
    })
}

impl PocketCard {
    /// The largest half-widths (95 %) over the card: of the magnification and of the room in front as shares of themselves, of the
    /// light in stops.
    pub fn doubts(&self) -> [f64; 3] {
        let share = |e: &Estimate| if e.value.abs() > 0.0 { e.plus_minus / e.value.abs() } else { 0.0 };
        let largest = |found: &mut dyn Iterator<Item = f64>| found.filter(|v| v.is_finite()).fold(0.0, f64::max);
        [
            largest(&mut self.rows.iter().map(|row| share(&row.magnification))),
            largest(&mut self.rows.iter().filter_map(|row| row.working_mm.as_ref().map(share))),
            largest(&mut self.rows.iter().map(|row| row.stops.plus_minus)),
        ]
    }

    /// [`Self::doubts`] in words.
    pub fn doubts_in_words(&self) -> String {
        let [size, room, light] = self.doubts();
        let percent = |share: f64| crate::web::fmt::figure((share * 100.0).max(0.01), 2);
        let why = if self.assumed { ", with some figures of the kit assumed" } else { "" };
        format!(
            "Sure to (95 %): size ± {} %, room ± {} %, light ± {} stop{why}.",
            percent(size),
            percent(room),
            crate::web::fmt::figure(light.max(0.001), 1)
        )
    }
}

/// Stops in thirds as a meter's ring has them: "+1⅓"; "0" below a sixth.
pub fn thirds(stops: f64) -> String {
    let thirds = (stops.abs() * 3.0).round() as i64;
    let part = ["", "⅓", "⅔"][(thirds % 3) as usize];
    let sign = if stops < 0.0 { "−" } else { "+" };
    match (thirds / 3, part) {
        (0, "") => "0".to_owned(),
        (0, part) => format!("{sign}{part}"),
        (whole, part) => format!("{sign}{whole}{part}"),
    }
}

#[cfg(test)]
mod tests;
