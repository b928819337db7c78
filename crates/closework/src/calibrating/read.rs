//! The calibrating file, read.

use super::entries::{At, CloseUpEntry, FrameEntry, Given, Number, PupilEntry, Reading, Side};
use std::ops::Range;
use toml_edit::{Document, Item, TableLike, Value};

/// What is wrong with a calibrating file, and where.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}{}{what}", .line.map(|line| format!("line {line}: ")).unwrap_or_default(), if .entry.is_empty() { String::new() } else { format!("{}: ", .entry) })]
pub struct FileError {
    /// Line, counted from 1.
    pub line: Option<usize>,
    /// The entry; empty for the file as a whole.
    pub entry: String,
    /// The field, what is wrong, and the fix.
    pub what: String,
}

const FRAME: &[&str] = &["label", "parts", "focus", "magnification", "px_per_mm", "pitch_um", "subject_to_film_mm"];
const PUPIL: &[&str] = &["label", "lens", "side", "diameter_px", "px_per_mm", "camera_mm", "depth_mm"];
const CLOSE_UP: &[&str] = &[
    "label",
    "part",
    "lens",
    "body",
    "rings",
    "focus",
    "magnification_without",
    "magnification_with",
    "px_per_mm_without",
    "px_per_mm_with",
    "pitch_um",
];
const TOP: &[&str] = &["frame", "pupil", "close_up", "common_scale", "fit_infinity_mark", "use_outliers"];

/// Words of a file as far as they help to recognise them.
fn shown(words: &str) -> String {
    words.chars().take(40).map(|c| if c.is_control() { ' ' } else { c }).collect()
}

fn line_of(text: &str, span: Option<Range<usize>>) -> Option<usize> {
    Some(text.get(..span?.start)?.matches('\n').count() + 1)
}

impl Given {
    /// From the text of a calibrating file. The first thing wrong refuses the whole text.
    pub fn parse(text: &str) -> Result<Self, FileError> {
        let document = Document::parse(text).map_err(|error| {
            let message = error.message().lines().collect::<Vec<_>>().join(", ");
            let what = format!("this is not valid TOML: {message}; mend that line");
            FileError { line: line_of(text, error.span()), entry: String::new(), what }
        })?;
        let top = Entry { text, name: String::new(), table: document.as_table(), known: TOP, line: None };
        top.check_keys()?;
        let mut given = Self {
            common_scale: top.share("common_scale")?,
            fit_infinity_mark: top.flag("fit_infinity_mark")?,
            use_outliers: top.flag("use_outliers")?,
            ..Self::EMPTY
        };
        for entry in top.entries("frame", "frame", FRAME)? {
            given.frames.push(entry.frame()?);
        }
        for entry in top.entries("pupil", "pupil photograph", PUPIL)? {
            given.pupils.push(entry.pupil()?);
        }
        for entry in top.entries("close_up", "close-up pair", CLOSE_UP)? {
            given.close_ups.push(entry.close_up()?);
        }
        Ok(given)
    }
}

/// A table and where it stands in the text.
type Placed<'a> = (&'a dyn TableLike, Option<Range<usize>>);

/// One table of the file, or the file's own.
struct Entry<'a> {
    text: &'a str,
    name: String,
    table: &'a dyn TableLike,
    known: &'static [&'static str],
    line: Option<usize>,
}

impl<'a> Entry<'a> {
    fn fail(&self, key: &str, words: impl std::fmt::Display) -> FileError {
        let span = self.table.key(key).and_then(|key| key.span());
        let span = span.or_else(|| self.table.get(key).and_then(Item::span));
        let line = line_of(self.text, span).or(self.line);
        FileError { line, entry: self.name.clone(), what: format!("{key} {words}") }
    }

    fn check_keys(&self) -> Result<(), FileError> {
        let Some((key, _)) = self.table.iter().find(|(key, _)| !self.known.contains(key)) else { return Ok(()) };
        let place = if self.name.is_empty() { "of a calibrating file" } else { "of this entry" };
        let words = format!("is no field {place}; it knows {}", self.known.join(", "));
        let mut error = self.fail(key, words);
        error.what = error.what.replacen(key, &format!("\"{}\"", shown(key)), 1);
        Err(error)
    }

    /// The tables of a list, each named by its label or its place.
    fn entries(&self, key: &str, kind: &str, known: &'static [&'static str]) -> Result<Vec<Entry<'a>>, FileError> {
        let Some(item) = self.table.get(key) else { return Ok(Vec::new()) };
        let tables: Option<Vec<Placed<'_>>> = match item {
            Item::ArrayOfTables(list) => Some(list.iter().map(|t| (t as &dyn TableLike, t.span())).collect()),
            Item::Value(Value::Array(list)) => {
                list.iter().map(|value| value.as_inline_table().map(|t| (t as &dyn TableLike, t.span()))).collect()
            }
            _ => None,
        };
        let Some(tables) = tables else {
            return Err(self.fail(key, format!("is one entry of a list; begin it with [[{key}]]")));
        };
        let mut entries = Vec::new();
        for (index, (table, span)) in tables.into_iter().enumerate() {
            let label = table.get("label").and_then(Item::as_str).map(str::trim).filter(|label| !label.is_empty());
            let name = match label {
                Some(label) => format!("{kind} \"{}\"", shown(label)),
                None => format!("{kind} {}", index + 1),
            };
            let entry = Entry { text: self.text, name, table, known, line: line_of(self.text, span) };
            entry.check_keys()?;
            entries.push(entry);
        }
        Ok(entries)
    }

    fn label(&self) -> Result<String, FileError> {
        Ok(self.words("label")?.unwrap_or_else(|| self.name.clone()))
    }

    fn words(&self, key: &str) -> Result<Option<String>, FileError> {
        let Some(item) = self.table.get(key) else { return Ok(None) };
        match item.as_str().map(str::trim) {
            Some("") => Err(self.fail(key, "is empty; write words between the quotes, or leave the line out")),
            Some(words) => Ok(Some(words.to_owned())),
            None => Err(self.fail(key, format!("must be words in quotes; write {key} = \"…\""))),
        }
    }

    fn needed_words(&self, key: &str, example: &str) -> Result<String, FileError> {
        self.words(key)?.ok_or_else(|| self.fail(key, format!("is missing; add {key} = {example}")))
    }

    fn list(&self, key: &str, example: &str) -> Result<Option<Vec<String>>, FileError> {
        let Some(item) = self.table.get(key) else { return Ok(None) };
        let wrong = || self.fail(key, format!("must be a list of ids in quotes; write {key} = {example}"));
        let list = item.as_array().ok_or_else(wrong)?;
        let words = list.iter().map(|value| value.as_str().map(|word| word.trim().to_owned()));
        words.collect::<Option<Vec<_>>>().ok_or_else(wrong).map(Some)
    }

    fn flag(&self, key: &str) -> Result<bool, FileError> {
        match self.table.get(key) {
            None => Ok(false),
            Some(item) => {
                item.as_bool().ok_or_else(|| self.fail(key, format!("must be true or false; write {key} = true")))
            }
        }
    }

    /// A number above 0, or of either sign, plain or with its half-width.
    fn number(&self, key: &str, above_zero: bool) -> Result<Option<Number>, FileError> {
        let Some(item) = self.table.get(key) else { return Ok(None) };
        let plain = |item: &Item| item.as_float().or_else(|| item.as_integer().map(|whole| whole as f64));
        let form = format!("must be a number; write {key} = 1.5, or {key} = {{ value = 1.5, plus_minus = 0.1 }}");
        let number = match item.as_table_like() {
            None => Number::plain(plain(item).ok_or_else(|| self.fail(key, &form))?),
            Some(table) => {
                if let Some((odd, _)) = table.iter().find(|(inner, _)| !["value", "plus_minus"].contains(inner)) {
                    let words = format!("holds \"{}\", where only value and plus_minus belong; remove it", shown(odd));
                    return Err(self.fail(key, words));
                }
                let inner = |name: &str| table.get(name).and_then(plain);
                let value = inner("value").ok_or_else(|| self.fail(key, &form))?;
                let plus_minus = inner("plus_minus").ok_or_else(|| self.fail(key, &form))?;
                if !(plus_minus.is_finite() && plus_minus > 0.0) {
                    let words = format!(
                        "has a plus_minus of {plus_minus}; write the half-width of its 95 % interval, above 0, or the number alone"
                    );
                    return Err(self.fail(key, words));
                }
                Number { value, plus_minus: Some(plus_minus) }
            }
        };
        if !number.value.is_finite() || above_zero && number.value <= 0.0 {
            let rule = if above_zero { "above 0" } else { "finite" };
            return Err(self.fail(key, format!("must be {rule}, not {}; write the measured figure", number.value)));
        }
        Ok(Some(number))
    }

    fn needed(&self, key: &str, example: &str) -> Result<Number, FileError> {
        self.number(key, true)?.ok_or_else(|| self.fail(key, format!("is missing; add {key} = {example}")))
    }

    fn share(&self, key: &str) -> Result<Option<f64>, FileError> {
        let Some(item) = self.table.get(key) else { return Ok(None) };
        let found = item.as_float().or_else(|| item.as_integer().map(|whole| whole as f64));
        match found.filter(|share| (0.0..=0.2).contains(share)) {
            Some(share) => Ok(Some(share)),
            None => Err(self.fail(key, format!("must be a share from 0 to 0.2; write {key} = 0.003 for 0.3 %"))),
        }
    }

    fn at(&self) -> Result<At, FileError> {
        const FORMS: &str = "infinity, closest or travel=MM with MM 0 or more";
        let Some(item) = self.table.get("focus") else {
            return Err(self.fail("focus", "is missing; add focus = \"infinity\", \"closest\" or \"travel=MM\""));
        };
        let wrong = |found: &str| self.fail("focus", format!("\"{}\" is none; write {FORMS}", shown(found)));
        match item.as_str() {
            Some("infinity") => Ok(At::Infinity),
            Some("closest") => Ok(At::Closest),
            Some(words) => {
                let travel = words.strip_prefix("travel=").and_then(|mm| mm.trim().parse::<f64>().ok());
                let travel = travel.filter(|mm| mm.is_finite() && *mm >= 0.0).ok_or_else(|| wrong(words))?;
                Ok(At::Travel(Number::plain(travel)))
            }
            // A travel that was measured better than a helical is read: { value = 3.52, plus_minus = 0.05 }.
            None => match self.number("focus", false)? {
                Some(travel) if travel.value >= 0.0 => Ok(At::Travel(travel)),
                _ => Err(wrong(item.to_string().trim())),
            },
        }
    }

    fn reading(&self, magnification: &str, px_per_mm: &str) -> Result<Option<Reading>, FileError> {
        let scan = self.number(px_per_mm, true)?;
        let pitch = self.number("pitch_um", true)?;
        match (self.number(magnification, true)?, scan, pitch) {
            (Some(_), Some(_), _) => {
                Err(self.fail(px_per_mm, format!("is given beside {magnification}; leave one of the two out")))
            }
            (Some(m), None, _) => Ok(Some(Reading::Magnification(m))),
            (None, Some(px_per_mm), Some(Number { value: pitch_um, plus_minus: None })) => {
                Ok(Some(Reading::Scan { px_per_mm, pitch_um }))
            }
            (None, Some(_), Some(_)) => Err(self.fail(
                "pitch_um",
                "takes a plain number; what it errs by is the same in all frames: write it as common_scale at the head of the file",
            )),
            (None, Some(_), None) => {
                Err(self.fail("pitch_um", format!("is missing beside {px_per_mm}; add pitch_um = 6.35 for 4000 dpi")))
            }
            (None, None, _) => Ok(None),
        }
    }

    fn frame(&self) -> Result<FrameEntry, FileError> {
        const EXAMPLE: &str = "[\"BODY\", \"TUBE\", \"LENS\"]";
        let parts = self.list("parts", EXAMPLE)?;
        let reading = self.reading("magnification", "px_per_mm")?;
        Ok(FrameEntry {
            label: self.label()?,
            parts: parts.ok_or_else(|| self.fail("parts", format!("is missing; add parts = {EXAMPLE}")))?,
            at: self.at()?,
            reading: reading.ok_or_else(|| {
                self.fail("magnification", "is missing; add it, or px_per_mm with pitch_um as a scan tells them")
            })?,
            subject_to_film_mm: self.number("subject_to_film_mm", true)?,
        })
    }

    fn pupil(&self) -> Result<PupilEntry, FileError> {
        let side = match self.needed_words("side", "\"front\" or \"back\"")?.as_str() {
            "front" => Side::Front,
            "back" => Side::Back,
            other => return Err(self.fail("side", format!("must be \"front\" or \"back\", not \"{}\"", shown(other)))),
        };
        let (camera_mm, depth_mm) = (self.number("camera_mm", true)?, self.number("depth_mm", false)?);
        if camera_mm.is_some() != depth_mm.is_some() {
            let (missing, there) =
                if camera_mm.is_some() { ("depth_mm", "camera_mm") } else { ("camera_mm", "depth_mm") };
            return Err(self.fail(missing, format!("is missing beside {there}; give both or neither")));
        }
        Ok(PupilEntry {
            label: self.label()?,
            lens: self.words("lens")?,
            side,
            diameter_px: self.needed("diameter_px", "412")?,
            px_per_mm: self.number("px_per_mm", true)?,
            camera_mm,
            depth_mm,
        })
    }

    fn close_up(&self) -> Result<CloseUpEntry, FileError> {
        let with = self.reading("magnification_with", "px_per_mm_with")?;
        Ok(CloseUpEntry {
            label: self.label()?,
            part: self.needed_words("part", "\"ID\", the close-up lens")?,
            lens: self.needed_words("lens", "\"ID\", the lens that it was screwed to")?,
            body: self.words("body")?,
            rings: self.list("rings", "[\"RING\"]")?.unwrap_or_default(),
            at: self.at()?,
            without: self.reading("magnification_without", "px_per_mm_without")?,
            with: with.ok_or_else(|| {
                self.fail("magnification_with", "is missing; add it, or px_per_mm_with with pitch_um")
            })?,
        })
    }
}
