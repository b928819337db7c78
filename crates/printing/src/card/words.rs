//! What the card says.

use target::{Card, Mark, PRINTED_RISE_MM, Paper, Ramp, Sheet, TRAP_PRINTED_REFLECTANCE};

/// "56.3 × 42.1 mm".
pub fn field([width, height]: [f64; 2]) -> String {
    format!("{} × {} mm", tenths(width), tenths(height))
}

/// One digit behind the point.
pub fn tenths(value: f64) -> String {
    format!("{value:.1}")
}

pub fn paper(paper: Paper) -> &'static str {
    match paper {
        Paper::A4 => "A4",
        Paper::Letter => "Letter",
    }
}

/// "6.3 mm": how far the sheet is lifted so that a ramp's mark is level with it.
pub fn lift(ramp: &Ramp) -> String {
    format!("{}\u{a0}mm", tenths(ramp.height_mm(ramp.strip_mm() / 2.0)))
}

/// How far one degree of tilt brings the middle of a longer side nearer, mm.
pub fn tilt_mm(field: [f64; 2]) -> f64 {
    field[0].max(field[1]) / 2.0 * 1.0_f64.to_radians().sin()
}

/// What follows each number; "!" marks a caution.
pub fn instructions(card: &Card, sheet: &Sheet) -> Vec<(String, String)> {
    let mut steps: Vec<String> = vec![
        "Print at 100 % (“actual size”, no fitting to the page), black on smooth matt white paper of 160 g/m² or more, best by laser. Measure the line at the head of the page.".into(),
    ];
    steps.push(if card.sheets.len() > 1 {
        "Cut this sheet out from corner mark to corner mark. The five sheets are laid as the map shows, all in one plane.".into()
    } else {
        "Cut the sheet out from corner mark to corner mark, or leave the page whole. The frame is to show the sheet, with a little white at most round it.".into()
    });
    steps.push("Lay it flat on a board and hold it down with tape outside the sheet: a corner that lifts is measured as a fault of the lens. No glass over it.".into());
    steps.push(trap());
    steps.push(if sheet.steps().next().is_some() { greys(sheet) } else { stuck_on() });
    steps.push(level(card));
    steps.push(
        "Light it evenly from two sides at about 45°, so that nothing shines. Focus on the square in the middle."
            .into(),
    );
    let mut pieces: Vec<(String, String)> =
        steps.into_iter().enumerate().map(|(index, text)| (format!("{}", index + 1), text)).collect();
    pieces.push(("·".into(), edges()));
    pieces.push(("!".into(), cautions().into()));
    pieces
}

fn trap() -> String {
    format!(
        "Trap (d): cut the black square out and lay a box lined with black under the hole. Printed black still sends back about {:.0} % of the light, the hole next to none.",
        100.0 * TRAP_PRINTED_REFLECTANCE
    )
}

fn greys(sheet: &Sheet) -> String {
    let shares: Vec<String> =
        sheet.steps().map(|step| format!("{}", (1000.0 * step.reflectance).round() / 10.0)).collect();
    format!(
        "Greys (c) are meant to reflect {} % where the paper reflects {:.0} %. Printers differ by about a fifth: trust them as a rough scale, or lay a bought grey scale beside them.",
        shares.join(", "),
        100.0 * crate::card::PAPER_REFLECTANCE
    )
}

fn stuck_on() -> String {
    "On so small a field printed greys are coarser than what is to be seen, and a paper ramp cannot be folded. Stick on instead, within the broken outlines: a piece of a grey scale (c); pieces of blade (f), their edge on the open side, for an edge sharper than any print; and stand a narrow steel rule (e) at 45° through the plane of the sheet.".into()
}

fn level(card: &Card) -> String {
    format!(
        "Film and sheet must be parallel. Lay a small flat mirror on the middle square and look through the finder: the lens must see itself in the middle of the frame. One degree of tilt brings a side of this field {:.2} mm nearer and takes the other as far away: keep that below a quarter of the depth of field. At 2.6° lengths across the tilt are also short by 0.1 %.",
        tilt_mm(card.field_mm)
    )
}

fn edges() -> String {
    format!(
        "What printed edges can prove: they rise over about {PRINTED_RISE_MM} mm and have lost half their contrast at {:.1} line pairs per mm on the sheet. Beyond about 1:3 that is softer than a good lens: lay blades over them.",
        target::printed_half_contrast_lp_mm()
    )
}

fn cautions() -> &'static str {
    "Blades cut: hold them with pliers, cover the free edges with tape, keep them from children. Hot lamps burn skin, paper and specimens. Local rules and the makers’ instructions come first."
}

/// The key's letter of a mark.
pub fn letter(mark: &Mark) -> &'static str {
    match mark {
        Mark::Square(_) => "a",
        Mark::Ruler(_) => "b",
        Mark::Step(_) | Mark::GreyScale(_) => "c",
        Mark::Trap(_) => "d",
        Mark::Ramp(_) | Mark::Rule(_) => "e",
        Mark::Blade(_) => "f",
        Mark::Code(_) => "g",
    }
}

/// The key's letters, each with what the part is for.
pub fn parts(sheet: &Sheet) -> Vec<(&'static str, &'static str)> {
    let half = sheet.rulers().any(|ruler| ruler.tick_mm < 0.9);
    let mut parts = vec![
        ("a", "Squares: sharpness along and across the radius, in the middle, half-way out and in the corners."),
        (
            "b",
            if half {
                "Rulers: a tick every 0.5 mm, the longest every 5 mm."
            } else {
                "Rulers: a tick every 1 mm, the longest every 10 mm."
            },
        ),
    ];
    if sheet.ramps().next().is_some() {
        parts.push(("c", "Grey steps: tone and exposure."));
        parts.push(("d", "Trap: the darkest thing in the picture shows stray light."));
        parts.push(("e", "Windows to cut out, for ramps: where the focus lies and how deep it is."));
    } else {
        parts.push(("c", "Place for a piece of a grey scale: tone and exposure."));
        parts.push(("d", "Trap: the darkest thing in the picture shows stray light."));
        parts.push(("e", "Place for a tilted steel rule: where the focus lies and how deep it is."));
        parts.push(("f", "Places for blades: edges sharper than any print."));
    }
    parts.push(("g", "Codes: they say which card this is and where everything lies. Keep them clean and uncovered."));
    parts
}

/// How a ramp is made and put up.
pub fn ramp_steps(ramp: &Ramp) -> Vec<String> {
    vec![
        "Cut out the window in the sheet and its strip. Fold the strip at the ticks, printed side out, both feet inwards.".into(),
        "Glue the feet to a piece of card so that the leg stands upright: the ramp slopes at 45°.".into(),
        format!(
            "Lay the sheet on blocks that leave the windows free below, at least {} thick: half the ramp’s height. Stand the ramp in its window, the high end towards the sheet’s upper side.",
            lift(ramp)
        ),
        "The mark, the white gap in the bars, must be level with the sheet: put card under the ramp until it is.".into(),
    ]
}

/// Where a sheet of a large field lies.
pub fn where_to(card: &Card, sheet: &Sheet) -> String {
    let [x, y] = sheet.offset_mm;
    let place = if x == 0.0 && y == 0.0 {
        "its middle on the middle of the field".to_owned()
    } else {
        format!(
            "its middle {} mm {} and {} mm {} the middle of the field, so that its outer corner is the field’s {} corner",
            tenths(x.abs()),
            if x < 0.0 { "left of" } else { "right of" },
            tenths(y.abs()),
            if y < 0.0 { "above" } else { "below" },
            sheet.part.name()
        )
    };
    format!(
        "The field is {} and takes five sheets. This one, “{}”: {place}. Sides parallel to the frame’s; a millimetre off does no harm.",
        field(card.field_mm),
        sheet.part.name()
    )
}
