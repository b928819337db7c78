//! Forms that come back with everything that was typed, and the message at the field it concerns.
//!
//! ```text
//! async fn save(State(app): State<App>, mut filled: Filled) -> Result<Response, PageError> {
//!     let focal = filled.required_number("focal_length_mm");
//!     if filled.has_errors() { return Ok(come_back(form_page(&filled))); }
//!     ...
//!     Ok(saved("/kit", "lens"))
//! }
//! Field::number("focal_length_mm", "Focal length").unit("mm").hint("Engraved on the lens.").required().show(&filled)
//! ```

use std::collections::BTreeMap;

use axum::extract::{FromRequest, RawForm, Request};
use axum::http::StatusCode;
use axum::http::header::{LOCATION, SET_COOKIE};
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};

use super::error::PageError;

/// What was typed into a form, and what is wrong with it. An extractor for form bodies.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Filled {
    values: Vec<(String, String)>,
    errors: BTreeMap<String, String>,
}

impl<S: Send + Sync> FromRequest<S> for Filled {
    type Rejection = PageError;

    async fn from_request(request: Request, state: &S) -> Result<Self, PageError> {
        let body = RawForm::from_request(request, state).await.map_err(|rejection| {
            let advice = "Go back to the form; what you typed should still be there. Send it from there again.";
            match rejection.into_response().status() {
                StatusCode::PAYLOAD_TOO_LARGE => PageError::too_large("The form holds more than 2 MB.", advice),
                _ => PageError::refused("The form did not arrive whole.", advice),
            }
        })?;
        Ok(Self { values: form_urlencoded::parse(&body.0).into_owned().collect(), errors: BTreeMap::new() })
    }
}

impl<N: Into<String>, V: Into<String>> FromIterator<(N, V)> for Filled {
    /// A form filled in beforehand, from names and values.
    fn from_iter<I: IntoIterator<Item = (N, V)>>(pairs: I) -> Self {
        let values = pairs.into_iter().map(|(n, v)| (n.into(), v.into())).collect();
        Self { values, errors: BTreeMap::new() }
    }
}

impl Filled {
    /// What a query string says: for forms that are sent by GET.
    pub fn from_query(query: Option<&str>) -> Self {
        form_urlencoded::parse(query.unwrap_or_default().as_bytes()).into_owned().collect()
    }

    /// What was typed, without blanks around it; empty when the field is absent.
    pub fn text(&self, name: &str) -> &str {
        self.raw(name).unwrap_or_default().trim()
    }

    /// What was typed, to the letter: for texts whose lines are counted.
    pub fn untrimmed(&self, name: &str) -> &str {
        self.raw(name).unwrap_or_default()
    }

    fn raw(&self, name: &str) -> Option<&str> {
        self.values.iter().find(|(n, _)| n == name).map(|(_, v)| v.as_str())
    }

    /// Every value of a field that may be given several times.
    pub fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.values.iter().filter(move |(n, _)| n == name).map(|(_, v)| v.as_str())
    }

    /// True when a check box was ticked.
    pub fn ticked(&self, name: &str) -> bool {
        self.raw(name).is_some()
    }

    /// Puts a value in, replacing what was there.
    pub fn set(&mut self, name: &str, value: impl Into<String>) {
        self.values.retain(|(n, _)| n != name);
        self.values.push((name.to_owned(), value.into()));
    }

    /// With one more value for a field that may be given several times.
    pub fn and(mut self, name: &str, value: impl Into<String>) -> Self {
        self.values.push((name.to_owned(), value.into()));
        self
    }

    /// Puts a value in only where the field is absent.
    pub fn default_to(&mut self, name: &str, value: impl Into<String>) {
        if self.raw(name).is_none() {
            self.set(name, value);
        }
    }

    /// Notes what is wrong with a field; the first note stays. The empty name stands for the form as a whole.
    pub fn wrong(&mut self, name: &str, message: impl Into<String>) {
        self.errors.entry(name.to_owned()).or_insert_with(|| message.into());
    }

    /// What is wrong with a field.
    pub fn error(&self, name: &str) -> Option<&str> {
        self.errors.get(name).map(String::as_str)
    }

    /// True when anything is wrong.
    pub fn has_errors(&self) -> bool {
        !self.errors.is_empty()
    }

    /// A text that must not be empty.
    pub fn required_text(&mut self, name: &str) -> String {
        if self.text(name).is_empty() {
            self.wrong(name, "This must be filled in.");
        }
        self.text(name).to_owned()
    }

    /// A number, or nothing when the field is empty or wrong (which is noted). A decimal comma is understood.
    pub fn number(&mut self, name: &str) -> Option<f64> {
        let typed = self.text(name).to_owned();
        if typed.is_empty() {
            return None;
        }
        let number = parse_number(&typed);
        if number.is_none() {
            self.wrong(name, format!("“{typed}” is not a number. Write it like 12.5, without a unit."));
        }
        number
    }

    /// A number that must be there.
    pub fn required_number(&mut self, name: &str) -> Option<f64> {
        if self.text(name).is_empty() {
            self.wrong(name, "A number is needed here.");
        }
        self.number(name)
    }

    /// A time in seconds, as a number or a fraction; nothing when the field is empty or wrong (which is noted).
    pub fn seconds(&mut self, name: &str) -> Option<f64> {
        let typed = self.text(name).to_owned();
        let found = parse_seconds(&typed).filter(|s| (1e-6..=1e6).contains(s));
        if found.is_none() && !typed.is_empty() {
            self.wrong(name, format!("“{typed}” is no time. Write it like 1/60 or 0.5."));
        }
        found
    }

    /// A number within limits, both included; `unit` is for the message.
    pub fn number_within(&mut self, name: &str, low: f64, high: f64, unit: &str) -> Option<f64> {
        let number = self.number(name)?;
        if (low..=high).contains(&number) {
            return Some(number);
        }
        let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
        self.wrong(name, format!("{number}{unit} is outside {low} to {high}{unit}."));
        None
    }

    /// Forgets a field, such as a check box that is not ticked.
    pub fn clear(&mut self, name: &str) {
        self.values.retain(|(n, _)| n != name);
    }

    /// The summary at the head of a form that came back: each message, linked to its field.
    pub fn summary(&self) -> Markup {
        self.summary_of("Nothing was saved yet. Please look at:")
    }

    /// [`Self::summary`] under words of its own, for forms that save nothing.
    pub fn summary_of(&self, words: &str) -> Markup {
        self.summary_in_order(words, &[])
    }

    /// [`Self::summary`] where messages such as "300 % is outside 1 to 100 %" would not say of what: each after the name of
    /// its field, in the order of the page.
    pub fn summary_named(&self, names: &[(&str, &str)]) -> Markup {
        self.summary_in_order("Nothing was saved yet. Please look at:", names)
    }

    fn summary_in_order(&self, words: &str, names: &[(&str, &str)]) -> Markup {
        let place = |field: &str| names.iter().position(|(name, _)| *name == field);
        let mut errors: Vec<_> = self.errors.iter().collect();
        errors.sort_by_key(|(field, _)| place(field).unwrap_or(names.len()));
        let errors = errors.into_iter().map(|(field, message)| match place(field) {
            Some(at) => (field, format!("{}: {message}", names[at].1)),
            None => (field, message.clone()),
        });
        html! {
            @if self.has_errors() {
                div.refusal role="alert" tabindex="-1" data-focus {
                    p.what { (words) }
                    ul {
                        @for (name, message) in errors {
                            li {
                                @if name.is_empty() { (message) } @else { a href=(format!("#field-{name}")) { (message) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// A finite number as people write it: decimal point or comma, a leading plus, no unit.
pub fn parse_number(typed: &str) -> Option<f64> {
    let plain = if typed.contains('.') { typed.to_owned() } else { typed.replacen(',', ".", 1) };
    let plain = plain.replace('\u{2212}', "-");
    plain.parse().ok().filter(|n: &f64| n.is_finite())
}

/// A magnification as people write it: "0.5", "1:2", "2,5:1"; above 0.
pub fn parse_magnification(typed: &str) -> Option<f64> {
    let found = match typed.split_once(':') {
        None => parse_number(typed),
        Some((film, subject)) => parse_number(film.trim()).zip(parse_number(subject.trim())).map(|(f, s)| f / s),
    };
    found.filter(|m| m.is_finite() && *m > 0.0)
}

/// The distance of a ruler's marks as people write it, in millimetres: "1", "0,5 mm", "1/16 in", "0.1 in", "1/64\""; above 0.
pub fn parse_marks_mm(typed: &str) -> Option<f64> {
    let typed = typed.trim();
    let inches = ["inches", "inch", "in", "\"", "″"].iter().find_map(|unit| typed.strip_suffix(unit));
    let (plain, factor) = match inches {
        Some(plain) => (plain, 25.4),
        None => (typed.strip_suffix("mm").unwrap_or(typed), 1.0),
    };
    let found = match plain.trim().split_once('/') {
        None => parse_number(plain.trim()),
        Some((above, below)) => parse_number(above.trim()).zip(parse_number(below.trim())).map(|(a, b)| a / b),
    };
    found.map(|n| n * factor).filter(|mm| mm.is_finite() && *mm > 0.0)
}

/// A length or a guide number as people write it, in metres: "28 m", "92 ft", "400 mm", "16 in"; `bare` is the unit in metres that is
/// meant where none is written. Above 0.
pub fn parse_metres(typed: &str, bare: f64) -> Option<f64> {
    const UNITS: [(&str, f64); 11] = [
        ("mm", 0.001),
        ("cm", 0.01),
        ("metres", 1.0),
        ("m", 1.0),
        ("feet", 0.3048),
        ("foot", 0.3048),
        ("ft", 0.3048),
        ("'", 0.3048),
        ("inches", 0.0254),
        ("in", 0.0254),
        ("\"", 0.0254),
    ];
    let typed = typed.trim();
    let (plain, metres) =
        UNITS.into_iter().find_map(|(unit, m)| Some((typed.strip_suffix(unit)?, m))).unwrap_or((typed, bare));
    parse_number(plain.trim()).map(|n| n * metres).filter(|m| m.is_finite() && *m > 0.0)
}

/// A time as people write it, in seconds: "0.5", "1/60", "1/60 s"; above 0.
pub fn parse_seconds(typed: &str) -> Option<f64> {
    let plain = typed.trim_end_matches('s').trim_end();
    let found = match plain.split_once('/') {
        None => parse_number(plain),
        Some((above, below)) => parse_number(above.trim()).zip(parse_number(below.trim())).map(|(a, b)| a / b),
    };
    found.filter(|s| s.is_finite() && *s > 0.0)
}

/// A form page once more, with 422, because something in it is wrong.
pub fn come_back(page: Html<String>) -> Response {
    (StatusCode::UNPROCESSABLE_ENTITY, page).into_response()
}

/// On to the next page after a form was accepted. `key` is the form's `data-keep`: what the browser kept of it
/// against loss is dropped.
pub fn saved(next: &str, key: &str) -> Response {
    let cookie = format!("saved={key}; Path=/; Max-Age=60; SameSite=Strict");
    (StatusCode::SEE_OTHER, [(LOCATION, next), (SET_COOKIE, cookie.as_str())]).into_response()
}

/// What kind of input a field is.
#[derive(Debug, Clone, PartialEq)]
enum Kind {
    Text,
    Number,
    Area,
    Tick,
    Choice(Vec<(String, String)>),
}

/// One field of a form: label, input, unit, hint, message.
#[derive(Debug, Clone, PartialEq)]
pub struct Field<'a> {
    name: &'a str,
    label: &'a str,
    kind: Kind,
    unit: Option<&'a str>,
    hint: Option<&'a str>,
    required: bool,
}

impl<'a> Field<'a> {
    fn new(kind: Kind, name: &'a str, label: &'a str) -> Self {
        Self { name, label, kind, unit: None, hint: None, required: false }
    }

    /// One line of text.
    pub fn text(name: &'a str, label: &'a str) -> Self {
        Self::new(Kind::Text, name, label)
    }

    /// A number; its input stays a text field, so that a decimal comma and what was mistyped survive.
    pub fn number(name: &'a str, label: &'a str) -> Self {
        Self::new(Kind::Number, name, label)
    }

    /// Several lines of text.
    pub fn area(name: &'a str, label: &'a str) -> Self {
        Self::new(Kind::Area, name, label)
    }

    /// A check box.
    pub fn tick(name: &'a str, label: &'a str) -> Self {
        Self::new(Kind::Tick, name, label)
    }

    /// A choice among values, each with its label.
    pub fn choice<V: Into<String>, L: Into<String>>(
        name: &'a str,
        label: &'a str,
        options: impl IntoIterator<Item = (V, L)>,
    ) -> Self {
        let options = options.into_iter().map(|(v, l)| (v.into(), l.into())).collect();
        Self::new(Kind::Choice(options), name, label)
    }

    /// The unit, shown behind the input and read with it.
    pub fn unit(mut self, unit: &'a str) -> Self {
        self.unit = Some(unit);
        self
    }

    /// A sentence that helps.
    pub fn hint(mut self, hint: &'a str) -> Self {
        self.hint = Some(hint);
        self
    }

    /// Marks the field as one that must be filled in.
    pub fn required(mut self) -> Self {
        self.required = true;
        self
    }

    /// The field with what was typed and what is wrong with it.
    pub fn show(&self, filled: &Filled) -> Markup {
        let id = format!("field-{}", self.name);
        let error = filled.error(self.name);
        let label = html! {
            label for=(id) {
                (self.label)
                @if self.required { span.required { " (needed)" } }
            }
        };
        html! {
            div.field.wrong[error.is_some()].tick[self.kind == Kind::Tick] {
                @if self.kind != Kind::Tick { (label) }
                div.entry {
                    (self.input(&id, filled))
                    @if self.kind == Kind::Tick { (label) }
                    @if let Some(unit) = self.unit { span.unit id=(format!("{id}-unit")) { (unit) } }
                }
                @if let Some(hint) = self.hint { p.hint id=(format!("{id}-hint")) { (hint) } }
                @if let Some(error) = error { p.error id=(format!("{id}-error")) { (error) } }
            }
        }
    }

    fn described_by(&self, id: &str, filled: &Filled) -> Option<String> {
        let parts = [
            (self.unit.is_some(), "unit"),
            (self.hint.is_some(), "hint"),
            (filled.error(self.name).is_some(), "error"),
        ];
        let ids: Vec<_> = parts.iter().filter(|(there, _)| *there).map(|(_, part)| format!("{id}-{part}")).collect();
        (!ids.is_empty()).then(|| ids.join(" "))
    }

    fn input(&self, id: &str, filled: &Filled) -> Markup {
        let described = self.described_by(id, filled);
        let invalid = filled.error(self.name).map(|_| "true");
        let value = filled.raw(self.name).unwrap_or_default();
        let required = self.required.then_some("true");
        html! {
            @match &self.kind {
                Kind::Text => input type="text" id=(id) name=(self.name) value=(value) autocomplete="off"
                    aria-describedby=[described] aria-invalid=[invalid] aria-required=[required];,
                Kind::Number => input.number type="text" inputmode="decimal" id=(id) name=(self.name) value=(value)
                    autocomplete="off" aria-describedby=[described] aria-invalid=[invalid] aria-required=[required];,
                Kind::Area => textarea id=(id) name=(self.name) rows="4" aria-describedby=[described]
                    aria-invalid=[invalid] aria-required=[required] { "\n" (value) },
                Kind::Tick => input type="checkbox" id=(id) name=(self.name) value="on" checked[filled.ticked(self.name)]
                    aria-describedby=[described] aria-invalid=[invalid];,
                Kind::Choice(options) => select id=(id) name=(self.name) aria-describedby=[described]
                    aria-invalid=[invalid] aria-required=[required] {
                    @for (option, label) in options {
                        option value=(option) selected[option == value] { (label) }
                    }
                },
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_as_people_write_them() {
        assert_eq!(parse_number("12.5"), Some(12.5));
        assert_eq!(parse_number("12,5"), Some(12.5));
        assert_eq!(parse_number("−2"), Some(-2.0));
        for wrong in ["1,234.5", "12 mm", "nan", "inf", "1,2,3", ""] {
            assert_eq!(parse_number(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn magnifications_and_times_as_people_write_them() {
        assert_eq!(parse_magnification("1:2"), Some(0.5));
        assert_eq!(parse_magnification("2,5:1"), Some(2.5));
        // An inch is 25.4 mm by definition.
        for (typed, mm) in [("1", 1.0), ("0,5 mm", 0.5), ("1/16 in", 1.5875), ("1/64\"", 0.396_875), ("0.1inch", 2.54)]
        {
            assert_eq!(parse_marks_mm(typed), Some(mm), "{typed}");
        }
        for wrong in ["", "in", "0", "-1", "1/0 in", "1//2", "one", "1 cm"] {
            assert_eq!(parse_marks_mm(wrong), None, "{wrong}");
        }
        // A foot is 0.3048 m by definition.
        for (typed, metres) in [
            ("28 m", 28.0),
            ("28", 28.0),
            ("10ft", 3.048),
            ("400 mm", 0.4),
            ("0,4 m", 0.4),
            ("10 in", 0.254),
            ("40cm", 0.4),
        ] {
            let found = parse_metres(typed, 1.0).expect(typed);
            testkit::assert_close!(found, metres, relative = 1e-12, "{typed}");
        }
        for wrong in ["", "0 m", "-1 ft", "28 yd", "ft", "nan m", "1e999"] {
            assert_eq!(parse_metres(wrong, 1.0), None, "{wrong}");
        }
        assert_eq!(parse_seconds("1/4"), Some(0.25));
        assert_eq!(parse_seconds("1/4 s"), Some(0.25));
        assert_eq!(parse_seconds("0,5"), Some(0.5));
        for wrong in ["1:0", "0", "-1", "life size", "1:2:3", "1/0", "a/b", ""] {
            assert_eq!((parse_magnification(wrong), parse_seconds(wrong)), (None, None), "{wrong}");
        }
    }

    #[test]
    fn what_was_typed_comes_back_escaped_with_its_message() {
        let mut filled: Filled = [("pitch", "\"><script>x</script>")].into_iter().collect();
        assert_eq!(filled.required_number("pitch"), None);
        let shown = Field::number("pitch", "Pitch").unit("µm").show(&filled).into_string();
        assert!(shown.contains("value=\"&quot;&gt;&lt;script&gt;x&lt;/script&gt;\""), "{shown}");
        assert!(shown.contains("aria-describedby=\"field-pitch-unit field-pitch-error\""), "{shown}");
        assert!(filled.summary().into_string().contains("href=\"#field-pitch\""));
    }

    #[test]
    fn limits_name_the_number_and_the_limit() {
        let mut filled: Filled = [("x", "5")].into_iter().collect();
        assert_eq!(filled.number_within("x", 0.0, 4.0, "mm"), None);
        assert_eq!(filled.error("x"), Some("5 mm is outside 0 to 4 mm."));
    }
}
