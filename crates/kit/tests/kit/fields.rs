//! `FIELDS.md` says what the registry says: whoever changes a default changes the page.

use kit::{FieldSpec, Kind, Shape};

const PAGE: &str = include_str!("../../FIELDS.md");

const HEAD: &str = "# What a kit file says of each part

Made from the registry of fields in `src/schema.rs`; a test fails when this page is stale and prints the right text.

A plain number outside the column *real parts have* is refused as a likely slip of the decimal point or the unit; with its own
uncertainty it is taken as it stands.

A number may carry its own uncertainty: `focal_length_mm = { value = 90, plus_minus = 1.5 }`. A plain number is trusted
as the column *a plain number is good to* says; every ± is the half-width of the 95 % interval. A field that is absent
and has a default is reported as *assumed* with every figure that it touches.

Settings that no kit states carry their own doubt: a travel read off a helical ± 0.3 mm, a figure set on a lens's distance scale
± 2 %, a distance held free ± 1 mm (common practice, no source). An f-number that is set is as sure as the engraved widest one.
";

fn shape(shape: Shape) -> String {
    match shape {
        Shape::Number(kit::Range::Any) => "any number".into(),
        Shape::Number(range) => format!("a number {}", range.rule()),
        Shape::Pair(range) => format!("two numbers {}", range.rule()),
        Shape::Numbers(range) => format!("a list of numbers {}", range.rule()),
        Shape::Words => "words".into(),
        Shape::OneOf(choices) => choices.join(" or "),
        Shape::Flag => "true or false".into(),
        Shape::Points => "pairs, as \"1=1.3, 10=20\"".into(),
    }
}

fn row(field: &FieldSpec) -> String {
    let needed = if field.required { "yes" } else { "no" };
    let meaning =
        if field.help.is_empty() { field.label.to_string() } else { format!("{}: {}", field.label, field.help) };
    let real = field.plausible.map_or(String::new(), |(low, high)| format!("{low} to {high}"));
    let [usual, absent] = [field.usual(), field.when_absent()].map(|words| words.unwrap_or_default());
    format!(
        "| `{}` | {meaning} | {} | {} | {needed} | {real} | {usual} | {absent} |\n",
        field.name,
        field.unit,
        shape(field.shape)
    )
}

fn table<'a>(title: &str, fields: impl Iterator<Item = &'a FieldSpec>) -> String {
    let head = "| field | meaning | unit | what it holds | needed | real parts have | a plain number is good to | assumed when absent |\n\
                | --- | --- | --- | --- | --- | --- | --- | --- |\n";
    format!("\n## {title}\n\n{head}{}", fields.map(row).collect::<String>())
}

fn page() -> String {
    let own = |kind: Kind| {
        let spec = kind.spec();
        table(&format!("{}: `[[{}]]`", spec.label, spec.table), spec.fields.iter())
    };
    let kinds: String = Kind::ALL.into_iter().map(own).collect();
    let common = Kind::Body.fields().skip(Kind::Body.spec().fields.len());
    let id = "\nEvery part must have an `id` of lower-case letters, digits and dashes besides.\n";
    format!("{HEAD}{kinds}{}{id}", table("Every part", common))
}

#[test]
fn the_page_of_fields_is_the_registry() {
    let right = page();
    assert!(PAGE == right, "crates/kit/FIELDS.md is stale; it must read:\n-----\n{right}-----");
}

#[test]
fn a_default_is_told_with_its_figure_and_its_reason() {
    let usual = |kind: Kind, field: &str| kind.field(field).unwrap().usual();
    let says = |kind, field, figure: &str, reason: &str| {
        let words = usual(kind, field).unwrap_or_default();
        assert!(words.starts_with(figure) && words.contains(reason), "{field}: {words}");
    };
    says(Kind::Lens, "focal_length_mm", "± 4 %: ", "engraved figures keep within about 5 %");
    says(Kind::Tube, "length_mm", "± 0.2 mm: ", "read off the part");
    says(Kind::Lens, "pupil_ratio", "± 0.03: ", "pupils measured");
    says(Kind::CloseUpLens, "power_dpt", "± 0.1 dpt and 3 %, added in quadrature: ", "rounded");
    // Stated, not measured: a shutter speed, a thread.
    assert_eq!(usual(Kind::Body, "shutter_s"), None);
    assert_eq!(usual(Kind::Lens, "thread_mm"), None);
    let absent = |field: &str| Kind::CloseUpLens.field(field).unwrap().when_absent();
    assert!(absent("gap_mm").is_some_and(|words| words.starts_with("3 ± 2 mm; to find the true one, measure")));
    assert_eq!(absent("power_dpt"), None);
}
