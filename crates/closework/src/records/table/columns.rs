//! The columns, each declared once: its name, what else it may be called, what it holds.

/// A column of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[expect(missing_docs, reason = "what each holds stands in the registry below")]
pub enum Column {
    Roll,
    Film,
    Iso,
    Frame,
    State,
    Label,
    Purpose,
    Slot,
    Parts,
    Focus,
    FocusOffset,
    FNumber,
    Shutter,
    Metered,
    ExposureNote,
    Note,
    PlannedParts,
    PlannedFocus,
    PlannedFNumber,
    PlannedShutter,
    PlannedMetered,
    TakenAt,
    SetUpMagnification,
    SetUpMagnificationDoubt,
    PlannedMagnification,
    EffectiveFNumber,
    EffectiveFNumberDoubt,
    SubjectToFilm,
    SubjectToFilmDoubt,
    Extension,
    ScanFile,
    ScanNumber,
    MatchedBy,
    Pitch,
    Magnification,
    MagnificationDoubt,
    MagnificationFrom,
    Card,
    CentreSharpness,
    CentreSharpnessDoubt,
    CornerSharpness,
    CornerSharpnessDoubt,
    RedFringe,
    RedFringeDoubt,
    BlueFringe,
    BlueFringeDoubt,
    FallOff,
    FallOffDoubt,
    Glare,
    GlareDoubt,
    EdgePlace,
    EdgeSharpness,
    EdgeSharpnessDoubt,
}

/// What is declared of a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ColumnSpec {
    /// The column.
    pub column: Column,
    /// Its name; it never changes.
    pub name: &'static str,
    /// What people write instead.
    pub also: &'static [&'static str],
    /// What it holds, in words.
    pub about: &'static str,
    /// It is read back.
    pub read: bool,
    /// It stands on the template for a log on paper.
    pub on_paper: bool,
}

const fn filled(column: Column, name: &'static str, also: &'static [&'static str], about: &'static str) -> ColumnSpec {
    ColumnSpec { column, name, also, about, read: true, on_paper: true }
}

const fn read(column: Column, name: &'static str, about: &'static str) -> ColumnSpec {
    ColumnSpec { column, name, also: &[], about, read: true, on_paper: false }
}

const fn told(column: Column, name: &'static str, about: &'static str) -> ColumnSpec {
    ColumnSpec { column, name, also: &[], about, read: false, on_paper: false }
}

impl ColumnSpec {
    /// All columns in their order.
    pub const ALL: &[Self] = &[
        filled(Column::Roll, "roll", &["film no", "roll no"], "What the roll is called. A new name begins a new roll."),
        filled(Column::Film, "film", &["stock", "emulsion"], "The film in it."),
        filled(Column::Iso, "iso", &["exposed at", "ei", "asa"], "The speed at which it is exposed (ISO)."),
        filled(
            Column::Frame,
            "frame",
            &["no", "number", "frame no", "frame number"],
            "The frame's number on the film.",
        ),
        filled(Column::State, "state", &["status"], "planned, taken or left out; empty counts as taken."),
        filled(Column::Label, "label", &["subject", "what", "motif", "title"], "What is on it."),
        filled(Column::Parts, "parts", &["set up", "gear"], "The set-up: parts from the body outwards, by id or name."),
        filled(Column::Focus, "focus", &[], "infinity, closest, travel=MM or distance=MM."),
        filled(
            Column::FNumber,
            "f_number",
            &["f", "aperture", "f stop", "stop"],
            "The f-number as engraved: 5.6, f/5,6.",
        ),
        filled(
            Column::Shutter,
            "shutter_s",
            &["shutter", "time", "exposure", "shutter time", "exposure time"],
            "The shutter time in seconds: 1/125, 0.5, 2 s, 4\".",
        ),
        filled(
            Column::Metered,
            "metered_s",
            &["meter", "metered", "metered time", "meter reading"],
            "The time that the meter gave, in seconds.",
        ),
        filled(Column::Note, "note", &["notes", "remark", "remarks", "comment"], "Anything else."),
        read(Column::Purpose, "purpose", "What the frame is for."),
        read(Column::Slot, "slot", "The planner's key of the frame."),
        read(Column::FocusOffset, "focus_offset_mm", "How far the focus is set off on purpose, mm."),
        read(Column::ExposureNote, "exposure_note", "How the shutter time was worked out."),
        read(Column::PlannedParts, "planned_parts", "The set-up that was planned, where another was taken."),
        read(
            Column::PlannedFocus,
            "planned_focus",
            "The focus that was planned; filled in says that the plan differed.",
        ),
        read(Column::PlannedFNumber, "planned_f_number", "The f-number that was planned."),
        read(Column::PlannedShutter, "planned_shutter_s", "The shutter time that was planned, seconds."),
        read(Column::PlannedMetered, "planned_metered_s", "The time that the meter gave when it was planned, seconds."),
        told(Column::TakenAt, "taken_at", "When it was taken, by the log."),
        told(
            Column::SetUpMagnification,
            "set_up_magnification",
            "Size on film over size of the subject, by the set-up.",
        ),
        told(Column::SetUpMagnificationDoubt, "set_up_magnification_plus_minus", "Half-width of its 95 % interval."),
        told(Column::PlannedMagnification, "planned_magnification", "The same of the set-up that was planned."),
        told(Column::EffectiveFNumber, "effective_f_number", "F-number of the cone at the film."),
        told(Column::EffectiveFNumberDoubt, "effective_f_number_plus_minus", "Half-width of its 95 % interval."),
        told(Column::SubjectToFilm, "subject_to_film_mm", "Subject to film, mm."),
        told(Column::SubjectToFilmDoubt, "subject_to_film_plus_minus_mm", "Half-width of its 95 % interval, mm."),
        told(Column::Extension, "extension_mm", "Tubes, draw and travel together, mm."),
        told(Column::ScanFile, "scan_file", "The name of the scan's file."),
        told(Column::ScanNumber, "scan_number", "The scan's number in the notebook."),
        told(Column::MatchedBy, "scan_matched_by", "How the scan came to its frame: hand, order, name, picture, code."),
        told(Column::Pitch, "scan_pitch_um", "Distance from pixel to pixel on the film, µm."),
        told(Column::Magnification, "scan_magnification", "Size on film over size of the subject, in the scan."),
        told(Column::MagnificationDoubt, "scan_magnification_plus_minus", "Half-width of its 95 % interval."),
        told(Column::MagnificationFrom, "scan_magnification_from", "How it is known: ruler, set-up, entered."),
        told(Column::Card, "card_print", "The print of the target card that was read."),
        told(
            Column::CentreSharpness,
            "centre_mtf50_lp_mm",
            "Where half of the contrast is left, middle of the frame, lp/mm on film.",
        ),
        told(Column::CentreSharpnessDoubt, "centre_mtf50_plus_minus_lp_mm", "Half-width of its 95 % interval, lp/mm."),
        told(
            Column::CornerSharpness,
            "corner_mtf50_lp_mm",
            "The same in the corners, in the worse of the two directions.",
        ),
        told(Column::CornerSharpnessDoubt, "corner_mtf50_plus_minus_lp_mm", "Half-width of its 95 % interval, lp/mm."),
        told(Column::RedFringe, "fringing_red_um", "Red against green in the corner, outwards, µm on film."),
        told(Column::RedFringeDoubt, "fringing_red_plus_minus_um", "Half-width of its 95 % interval, µm."),
        told(Column::BlueFringe, "fringing_blue_um", "Blue against green in the corner, outwards, µm on film."),
        told(Column::BlueFringeDoubt, "fringing_blue_plus_minus_um", "Half-width of its 95 % interval, µm."),
        told(Column::FallOff, "fall_off_stops", "From the middle to the darkest corner, stops."),
        told(Column::FallOffDoubt, "fall_off_plus_minus_stops", "Half-width of its 95 % interval, stops."),
        told(Column::Glare, "glare_share", "Veiling glare as a share of white."),
        told(
            Column::GlareDoubt,
            "glare_plus_minus_share",
            "Half-width of its 95 % interval; empty where the glare is a bound.",
        ),
        told(Column::EdgePlace, "edge_place", "Where the last single edge was measured, in your words."),
        told(Column::EdgeSharpness, "edge_mtf50_cy_px", "Where half of its contrast is left, cycles per pixel."),
        told(
            Column::EdgeSharpnessDoubt,
            "edge_mtf50_plus_minus_cy_px",
            "Half-width of its 95 % interval, cycles per pixel.",
        ),
    ];

    /// The column that a heading means: its name or one of the others, without regard to capitals, blanks, dashes, underscores
    /// and a unit in brackets.
    pub fn of_heading(heading: &str) -> Option<&'static Self> {
        let wanted = plain(heading);
        let means = |name: &str| plain(name) == wanted;
        Self::ALL.iter().find(|spec| means(spec.name) || spec.also.iter().any(|name| means(name)))
    }

    /// The names of all columns that are read.
    pub fn read_names() -> Vec<&'static str> {
        Self::ALL.iter().filter(|spec| spec.read).map(|spec| spec.name).collect()
    }
}

/// "F-Number [s]" as "fnumber".
fn plain(heading: &str) -> String {
    let bare = heading.split(['(', '[']).next().unwrap_or_default();
    bare.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_name_means_two_columns() {
        let mut names: Vec<String> = Vec::new();
        for spec in ColumnSpec::ALL {
            names.extend(std::iter::once(&spec.name).chain(spec.also).map(|name| plain(name)));
            assert!(!spec.about.is_empty());
        }
        let all = names.len();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), all, "{names:?}");
    }

    #[test]
    fn headings_as_people_write_them() {
        let column = |heading: &str| ColumnSpec::of_heading(heading).map(|spec| spec.column);
        for (heading, meant) in [
            ("F-Number", Column::FNumber),
            ("f number", Column::FNumber),
            ("Aperture", Column::FNumber),
            ("Shutter (s)", Column::Shutter),
            (" FRAME ", Column::Frame),
            ("Set-up", Column::Parts),
            ("scan_file", Column::ScanFile),
        ] {
            assert_eq!(column(heading), Some(meant), "{heading}");
        }
        assert_eq!((column("weather"), column("")), (None, None));
    }
}
