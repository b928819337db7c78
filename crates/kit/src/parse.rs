//! The kit file, read.

use crate::error::{KitError, Place, Problem, Slip};
use crate::field::{FieldSpec, Quantity, Range, Shape, Value};
use crate::part::{Kit, Part, closest};
use crate::points::typed_points;
use crate::schema::Kind;
use std::collections::{BTreeMap, HashMap};
use std::ops::Range as Span;
use toml_edit::{Document, InlineTable, Item, TableLike, Value as Toml};

impl Kit {
    /// A kit from the text of a kit file. The first thing wrong refuses the whole text.
    pub fn parse(text: &str) -> Result<Self, KitError> {
        let reader = Reader { text };
        let document = Document::parse(text).map_err(|error| {
            let message = error.message().lines().collect::<Vec<_>>().join(", ");
            let found = shown(reader.line_text(error.span()));
            reader.error(error.span(), None, None, Problem::Syntax { message, found })
        })?;
        let mut parts = Vec::new();
        for (key, item) in document.as_table().iter() {
            let span = document.as_table().key(key).and_then(|key| key.span()).or_else(|| item.span());
            let kind = Kind::from_table(key).ok_or_else(|| reader.unknown_kind(key, span.clone()))?;
            for table in tables(item).ok_or_else(|| reader.error(span, None, None, Problem::NotAList(key.into())))? {
                parts.push(reader.part(kind, table)?);
            }
        }
        // Tables of one kind come together whatever their order in the file; the file's own order is kept instead.
        parts.sort_by_key(|(line, _)| *line);
        reader.unique_ids(&parts)?;
        Ok(Self { parts: parts.into_iter().map(|(_, part)| part).collect() })
    }
}

/// The tables under a kind's name: `[[lens]]` entries, or a list of inline tables.
fn tables(item: &Item) -> Option<Vec<Entry<'_>>> {
    match item {
        Item::ArrayOfTables(array) => Some(array.iter().map(|t| Entry { table: t, span: t.span() }).collect()),
        Item::Value(Toml::Array(array)) => {
            array.iter().map(|value| value.as_inline_table().map(|t| Entry { table: t, span: t.span() })).collect()
        }
        _ => None,
    }
}

/// One part's table and where it begins.
struct Entry<'a> {
    table: &'a dyn TableLike,
    span: Option<Span<usize>>,
}

struct Reader<'a> {
    text: &'a str,
}

impl Reader<'_> {
    fn line(&self, span: Option<Span<usize>>) -> Option<usize> {
        Some(self.text.get(..span?.start)?.matches('\n').count() + 1)
    }

    /// The text of the line in which `span` begins.
    fn line_text(&self, span: Option<Span<usize>>) -> &str {
        let at = span.map_or(0, |span| span.start);
        let (before, behind) = self.text.split_at_checked(at).unwrap_or(("", self.text));
        let from = before.rfind('\n').map_or(0, |line_break| line_break + 1);
        let to = at + behind.find('\n').unwrap_or(behind.len());
        self.text.get(from..to).unwrap_or_default().trim()
    }

    fn error(&self, span: Option<Span<usize>>, part: Option<&str>, field: Option<&str>, problem: Problem) -> KitError {
        let place = Place { line: self.line(span), part: part.map(Into::into), field: field.map(shown) };
        KitError { place, problem }
    }

    fn unknown_kind(&self, key: &str, span: Option<Span<usize>>) -> KitError {
        let kinds: Vec<_> = Kind::ALL.iter().map(|kind| format!("[[{}]]", kind.spec().table)).collect();
        self.error(span, None, None, Problem::UnknownKind(shown(key), kinds.join(", ")))
    }

    fn part(&self, kind: Kind, entry: Entry<'_>) -> Result<(Option<usize>, Part), KitError> {
        let id = self.id(kind, &entry)?;
        let named = format!("{} \"{id}\"", kind.spec().label);
        let mut values = BTreeMap::new();
        for (key, item) in entry.table.iter().filter(|(key, _)| *key != "id") {
            let key_span = entry.table.key(key).and_then(|key| key.span()).or_else(|| item.span());
            let fail = |problem| self.error(key_span.clone(), Some(&named), Some(key), problem);
            let field = kind.field(key).ok_or_else(|| fail(unknown_field(kind, key)))?;
            values.insert(field.name, value(field, item).map_err(fail)?);
        }
        let part = Part { kind, id, values };
        let missing = kind.fields().find(|field| field.required && part.value(field.name).is_none());
        if let Some(field) = missing {
            return Err(self.error(entry.span, Some(&named), Some(field.name), Problem::Missing(field.unit)));
        }
        let line = self.line(entry.span.clone());
        part.check_together().map_err(|(field, problem)| {
            let span = entry.table.key(field).and_then(|key| key.span());
            self.error(span.or(entry.span), Some(&named), Some(field), problem)
        })?;
        Ok((line, part))
    }

    fn id(&self, kind: Kind, entry: &Entry<'_>) -> Result<String, KitError> {
        let label = Some(kind.spec().label);
        let Some(item) = entry.table.get("id") else {
            return Err(self.error(entry.span.clone(), label, Some("id"), Problem::Missing("")));
        };
        let span = item.span().or_else(|| entry.span.clone());
        let Some(id) = item.as_str() else {
            return Err(self.error(span, label, Some("id"), Problem::NotWords(describe(item))));
        };
        check_id(id).map_err(|problem| self.error(span, label, None, problem))
    }

    fn unique_ids(&self, parts: &[(Option<usize>, Part)]) -> Result<(), KitError> {
        let mut first_lines: HashMap<&str, Option<usize>> = HashMap::new();
        for (line, part) in parts {
            if let Some(first_line) = first_lines.insert(&part.id, *line) {
                let place = Place { line: *line, part: Some(part.kind.spec().label.into()), field: None };
                return Err(KitError { place, problem: Problem::DuplicateId { id: part.id.clone(), first_line } });
            }
        }
        Ok(())
    }
}

/// A stranger's words fit for one sentence: on one line, and no longer than it takes to recognise them.
pub(crate) fn shown(words: &str) -> String {
    const ENOUGH: usize = 40;
    let line: String = words.chars().take(ENOUGH).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if words.chars().nth(ENOUGH).is_some() { line + "…" } else { line }
}

/// The id itself when it is made of lower-case letters, digits and dashes.
pub(crate) fn check_id(id: &str) -> Result<String, Problem> {
    let fits = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if id.is_empty() || !id.chars().all(fits) {
        return Err(Problem::BadId(shown(id)));
    }
    Ok(id.into())
}

fn unknown_field(kind: Kind, key: &str) -> Problem {
    let near = closest(key, kind.fields().map(|field| field.name));
    Problem::UnknownField { kind: kind.spec().label, closest: near.and_then(|n| kind.field(n)).map(|f| f.name) }
}

impl Part {
    /// What only several fields together can get wrong: the field to blame, and the problem.
    pub(crate) fn check_together(&self) -> Result<(), (&'static str, Problem)> {
        if let [from, to] = self.numbers("draw_mm")[..]
            && from > to
        {
            return Err(("draw_mm", Problem::WrongOrder { from, to }));
        }
        if let Some((min, max)) = self.number("min_aperture").zip(self.number("max_aperture"))
            && min < max
        {
            return Err(("min_aperture", Problem::AperturesCrossed { min, max }));
        }
        if let (Some(takes), Some(fits)) = (self.words("lens_mount"), self.words("body_mount"))
            && takes == fits
        {
            return Err(("lens_mount", Problem::AdapterToItself(shown(takes))));
        }
        self.check_film()?;
        self.check_plausible()
    }

    /// Figures that are ten or a thousand times too large or too small: millimetres typed as centimetres or inches,
    /// metres in a field of millimetres, a decimal point lost.
    fn check_plausible(&self) -> Result<(), (&'static str, Problem)> {
        for field in self.kind.fields() {
            let Some((low, high)) = field.plausible else { continue };
            let usual = format!("{low} to {high}{}{}", if field.unit.is_empty() { "" } else { " " }, field.unit);
            self.check_between(field, (low, high), usual)?;
        }
        let Some(diagonal) = self.frame_diagonal() else { return Ok(()) };
        let Some(frame) = self.kind.field("frame_mm") else { return Ok(()) };
        self.check_between(frame, FRAME_SIDES_MM, "film frames have sides of 4 to 700 mm".into())?;
        // The mirror, or at least the shutter, needs room in proportion to the frame (common practice, no source).
        let Some(register) = self.kind.field("register_mm") else { return Ok(()) };
        let usual = format!(
            "on a frame {diagonal:.0} mm across registers lie between {:.0} and {:.0} mm",
            0.25 * diagonal,
            6.0 * diagonal
        );
        self.check_between(register, (0.25 * diagonal, 6.0 * diagonal), usual)
    }

    fn frame_diagonal(&self) -> Option<f64> {
        match self.numbers("frame_mm")[..] {
            [width, height] => Some(width.hypot(height)),
            _ => None,
        }
    }

    fn check_between(
        &self,
        field: &'static FieldSpec,
        (low, high): (f64, f64),
        usual: String,
    ) -> Result<(), (&'static str, Problem)> {
        let quantities = match self.value(field.name) {
            Some(Value::Number(quantity)) => std::slice::from_ref(quantity),
            Some(Value::Numbers(list)) => &list[..],
            _ => return Ok(()),
        };
        let inside = |number: f64| number >= low && number <= high;
        let Some(found) = quantities.iter().find(|q| q.plus_minus.is_none() && !inside(q.value)) else { return Ok(()) };
        let meant =
            [10.0, 0.1, 1000.0, 25.4, 100.0].map(|factor| found.value * factor).into_iter().find(|n| inside(*n));
        let meant = meant.map(|number| (number * 1e6).round() / 1e6);
        Err((field.name, Problem::Implausible(Box::new(Slip { found: found.value, unit: field.unit, usual, meant }))))
    }
}

/// From subminiature to the largest plates.
const FRAME_SIDES_MM: (f64, f64) = (4.0, 700.0);

fn value(field: &FieldSpec, item: &Item) -> Result<Value, Problem> {
    match field.shape {
        Shape::Number(range) => Ok(Value::Number(number(field, range, item.as_value(), item)?)),
        Shape::Pair(range) => {
            let list = numbers(field, range, item, true)?;
            if list.len() != 2 {
                let found = format!("{} of them", list.len());
                return Err(Problem::NotNumbers { found, pair: true, example: example(field) });
            }
            Ok(Value::Numbers(list))
        }
        Shape::Numbers(range) => {
            let list = numbers(field, range, item, false)?;
            if list.is_empty() {
                return Err(empty_list(field));
            }
            Ok(Value::Numbers(list))
        }
        Shape::Words => words(item).map(Value::Words),
        Shape::OneOf(allowed) => one_of(words(item)?, allowed).map(Value::Words),
        Shape::Flag => item.as_bool().map(Value::Flag).ok_or_else(|| Problem::NotAFlag(describe(item))),
        Shape::Points => points(item).map(Value::Points),
    }
}

/// "1=1.3, 10=20" or [[1, 1.3], [10, 20]].
fn points(item: &Item) -> Result<Vec<(f64, f64)>, Problem> {
    if let Some(text) = item.as_str() {
        return match typed_points(text)? {
            points if points.is_empty() => Err(Problem::NotATest(film::TableError::Empty)),
            points => Ok(points),
        };
    }
    let pairs = item.as_array().ok_or_else(|| Problem::NotAPoint { place: 1, found: describe(item) })?;
    let pair = |(at, value): (usize, &Toml)| {
        let wrong = || Problem::NotAPoint { place: at + 1, found: describe_value(value) };
        let two = value.as_array().filter(|pair| pair.len() == 2).ok_or_else(wrong)?;
        let number = |at: usize| two.get(at).and_then(plain).ok_or_else(wrong);
        Ok((number(0)?, number(1)?))
    };
    pairs.iter().enumerate().map(pair).collect()
}

/// Where a list of numbers is asked for and none is there.
pub(crate) fn empty_list(field: &FieldSpec) -> Problem {
    Problem::NotNumbers { found: "an empty list".into(), pair: false, example: example(field) }
}

fn words(item: &Item) -> Result<String, Problem> {
    item.as_str().map(Into::into).ok_or_else(|| Problem::NotWords(describe(item)))
}

pub(crate) fn one_of(word: String, allowed: &[&str]) -> Result<String, Problem> {
    if allowed.contains(&word.as_str()) {
        return Ok(word);
    }
    let choices: Vec<_> = allowed.iter().map(|choice| format!("\"{choice}\"")).collect();
    Err(Problem::NotOneOf(shown(&word), choices.join(" or ")))
}

fn numbers(field: &FieldSpec, range: Range, item: &Item, pair: bool) -> Result<Vec<Quantity>, Problem> {
    let array =
        item.as_array().ok_or_else(|| Problem::NotNumbers { found: describe(item), pair, example: example(field) })?;
    array.iter().map(|value| number(field, range, Some(value), item)).collect()
}

fn number(field: &FieldSpec, range: Range, value: Option<&Toml>, item: &Item) -> Result<Quantity, Problem> {
    let not_a_number = |found: String| Problem::NotANumber { found, unit: field.unit, example: example(field) };
    let value = value.ok_or_else(|| not_a_number(describe(item)))?;
    let quantity = match value {
        Toml::InlineTable(table) => uncertain(field, table)?,
        other => Quantity::plain(plain(other).ok_or_else(|| not_a_number(describe_value(other)))?),
    };
    check_range(field, range, quantity)
}

/// The quantity itself when its number lies in the field's range and its uncertainty can be one.
pub(crate) fn check_range(field: &FieldSpec, range: Range, quantity: Quantity) -> Result<Quantity, Problem> {
    let fail = |found, rule: String| Err(Problem::OutOfRange { found, rule, unit: field.unit });
    if !range.holds(quantity.value) {
        return fail(quantity.value, range.rule());
    }
    match quantity.plus_minus.filter(|half| !Range::NotNegative.holds(*half)) {
        Some(half) => fail(half, "0 or more in its plus_minus".into()),
        None => Ok(quantity),
    }
}

fn plain(value: &Toml) -> Option<f64> {
    value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64))
}

/// `{ value = 90, plus_minus = 1.5 }`
fn uncertain(field: &FieldSpec, table: &InlineTable) -> Result<Quantity, Problem> {
    let wrong =
        |found: String| Problem::NotANumber { found, unit: field.unit, example: "{ value = 90, plus_minus = 1.5 }" };
    if let Some((key, _)) = table.iter().find(|(key, _)| !matches!(*key, "value" | "plus_minus")) {
        return Err(wrong(format!("a table with \"{}\"", shown(key))));
    }
    let get = |key: &str| match table.get(key) {
        None => Ok(None),
        Some(value) => plain(value).map(Some).ok_or_else(|| wrong(describe_value(value))),
    };
    let value = get("value")?.ok_or_else(|| wrong("a table without \"value\"".into()))?;
    Ok(Quantity { value, plus_minus: get("plus_minus")? })
}

/// What a right entry looks like.
pub(crate) fn example(field: &FieldSpec) -> &'static str {
    match (field.unit, field.shape) {
        (_, Shape::Pair(_)) if field.name == "draw_mm" => "[35, 140]",
        (_, Shape::Pair(_)) if field.name == "threads_mm" => "[58, 52]",
        (_, Shape::Pair(_)) => "[56, 56]",
        (_, Shape::Numbers(_)) => "[1, 0.5, 0.25]",
        ("mm", _) => "90",
        ("dpt", _) => "2",
        _ => "2.8",
    }
}

fn describe(item: &Item) -> String {
    match item {
        Item::Value(value) => describe_value(value),
        Item::None => "nothing".into(),
        _ => "a table".into(),
    }
}

fn describe_value(value: &Toml) -> String {
    match value {
        Toml::String(text) => format!("the text \"{}\"", shown(text.value())),
        Toml::Array(_) => "a list".into(),
        Toml::InlineTable(_) => "a table".into(),
        Toml::Datetime(_) => "a date".into(),
        other => other.to_string().trim().to_string(),
    }
}
