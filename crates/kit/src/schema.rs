//! The registry of kinds of part and their fields.

use crate::field::{FieldSpec, Range, Shape};

/// A kind of part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// A camera body.
    Body,
    /// A photographic lens.
    Lens,
    /// A hollow tube between body and lens.
    Tube,
    /// A bellows between body and lens.
    Bellows,
    /// A lens that screws into the front thread.
    CloseUpLens,
    /// Body mount to a lens's front thread.
    ReversingRing,
    /// Joins two front threads.
    CouplingRing,
    /// One filter thread to another.
    StepRing,
    /// A negative lens between body and lens.
    Teleconverter,
    /// A lens of one mount on a body of another.
    Adapter,
    /// A film, with a person's own test of it.
    Film,
    /// A lens's surfaces, typed by a person: what rays go through in the place of a lens that names it.
    LensTable,
}

/// What the registry knows of a kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KindSpec {
    /// The kind.
    pub kind: Kind,
    /// Its table's name in the kit file.
    pub table: &'static str,
    /// What a person calls it.
    pub label: &'static str,
    /// Several of them.
    pub plural: &'static str,
    /// Its fields, in the order in which they are written, without `id`.
    pub fields: &'static [FieldSpec],
}

impl Kind {
    /// All kinds, in the order in which the kit file is written.
    pub const ALL: [Self; 12] = [
        Self::Body,
        Self::Lens,
        Self::Tube,
        Self::Bellows,
        Self::CloseUpLens,
        Self::ReversingRing,
        Self::CouplingRing,
        Self::StepRing,
        Self::Teleconverter,
        Self::Adapter,
        Self::Film,
        Self::LensTable,
    ];

    /// The kind whose table in the kit file has that name.
    pub fn from_table(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.spec().table == name)
    }

    /// Whether it is a thing that can be put in a set-up, bought and sold, and not something that is known of things.
    pub fn is_gear(self) -> bool {
        !matches!(self, Self::Film | Self::LensTable)
    }

    /// Its entry in the registry.
    pub fn spec(self) -> &'static KindSpec {
        &SPECS[self as usize]
    }

    /// The declaration of one of its fields, the common ones included.
    pub fn field(self, name: &str) -> Option<&'static FieldSpec> {
        self.spec().fields.iter().chain(COMMON).find(|field| field.name == name)
    }

    /// All its fields, the common ones last.
    pub fn fields(self) -> impl Iterator<Item = &'static FieldSpec> {
        self.spec().fields.iter().chain(COMMON)
    }
}

const MACHINED: &str = "lengths read off the part or its leaflet are good to about 0.2 mm";
const ENGRAVED: &str = "engraved figures keep within about 5 % (ISO 517, from memory), taken as the limits of a triangle: 95 % lie within 4 %";
const MEASURED_BY_RULE: &str = "a length measured with a rule against a curved barrel is good to about 1 mm";

const fn mount() -> FieldSpec {
    FieldSpec::words("mount", "mount").must().means("The name of the bayonet or screw; parts with the same name join.")
}

const fn length(name: &'static str, label: &'static str) -> FieldSpec {
    FieldSpec::number(name, label, "mm", Range::Positive).within(0.2, 0.0, MACHINED)
}

const fn thickness() -> FieldSpec {
    FieldSpec::number("thickness_mm", "thickness", "mm", Range::NotNegative).within(0.2, 0.0, MACHINED)
}

const fn thread(name: &'static str) -> FieldSpec {
    FieldSpec::number(name, "filter thread", "mm", Range::Positive).between(12.0, 250.0)
}

const fn clear() -> FieldSpec {
    FieldSpec::number("clear_mm", "clear diameter", "mm", Range::Positive)
        .between(5.0, 300.0)
        .means("The narrowest opening that light has to pass, when it is known: it then counts as an aperture.")
        .within(0.5, 0.0, "an opening measured with a calliper across its edge is good to half a millimetre")
}

const fn linkage(help: &'static str) -> FieldSpec {
    FieldSpec::of("linkage", "carries the linkage", "", Shape::Flag).means(help)
}

const LINKAGE: &str = "It hands the body's iris linkage on to the lens. Without it a coupled iris stays open.";

/// Fields that every part may have.
static COMMON: &[FieldSpec] = &[
    FieldSpec::words("name", "name"),
    FieldSpec::words("notes", "notes"),
    FieldSpec::number("price", "price", "", Range::NotNegative).means("What it would bring, or cost."),
    FieldSpec::words("currency", "currency"),
];

static BODY: &[FieldSpec] = &[
    FieldSpec::of("frame_mm", "frame, width and height", "mm", Shape::Pair(Range::Positive))
        .must()
        .means("The image on film, not the film's width: 56 and 56 on a 6×6 body.")
        .within(0.5, 0.0, "frame gates of one format differ by about half a millimetre between makers"),
    FieldSpec::number("register_mm", "register", "mm", Range::Positive)
        .must()
        .means("Mount face to film, also called flange distance.")
        .within(0.1, 0.0, "a register off by more would spoil infinity focus"),
    mount(),
    FieldSpec::number("throat_mm", "clear diameter of the mount", "mm", Range::Positive)
        .between(10.0, 300.0)
        .means("When it is known, set-ups whose corners it cuts are told.")
        .within(0.5, 0.0, "an opening measured with a calliper across its edge is good to half a millimetre"),
    shutter(),
    FieldSpec::of("bulb", "has B", "", Shape::Flag).means("The shutter stays open as long as it is held."),
    FieldSpec::number("flash_sync_s", "shortest time for flash", "s", Range::Positive)
        .between(0.0001, 1.0)
        .means("The shortest speed at which the whole frame is open at once. A leaf shutter in the lens fires flash at all its speeds."),
    FieldSpec::of("mirror", "mirror that swings", "", Shape::OneOf(&["yes", "no"]))
        .means("Whether a mirror swings up for the exposure, which shakes the camera."),
];

const fn shutter() -> FieldSpec {
    FieldSpec::of("shutter_s", "shutter speeds", "s", Shape::Numbers(Range::Positive))
        .means("The speeds it has, in seconds: 1, 0.5, 0.25 …")
}

static LENS: &[FieldSpec] = &[
    mount(),
    FieldSpec::number("focal_length_mm", "focal length", "mm", Range::Positive)
        .must()
        .within(0.0, 0.04, ENGRAVED)
        .between(4.0, 3000.0)
        .found_as("calibrated_focal_length_mm"),
    FieldSpec::number("max_aperture", "widest f-number", "", Range::Positive)
        .must()
        .between(0.5, 90.0)
        .means("As engraved: 2.8 for f/2.8.")
        .within(0.0, 0.04, ENGRAVED),
    FieldSpec::number("min_aperture", "smallest stop", "", Range::Positive).means("The largest f-number: 22 for f/22."),
    FieldSpec::number("pupil_ratio", "pupil ratio", "", Range::Positive)
        .means("Exit pupil diameter over entrance pupil diameter.")
        .between(0.1, 10.0)
        .found_as("calibrated_pupil_ratio")
        .within(0.03, 0.0, "pupils measured on a photograph of the lens are good to about 3 %")
        .assumed(
            1.0,
            0.4,
            "photograph the stopped-down lens from afar from the front and from the back; divide the diameters of the bright discs, back by front",
        ),
    length("length_mm", "mount seat to front rim, at infinity").must().between(2.0, 1500.0).within(1.0, 0.0, MEASURED_BY_RULE),
    FieldSpec::number("close_focus_mm", "closest mark, subject to film", "mm", Range::Positive)
        .between(20.0, 60_000.0)
        .within(0.0, 0.02, "distance scales are rounded to the next mark: about 2 %"),
    FieldSpec::number("max_magnification", "magnification at the closest mark", "×", Range::Positive)
        .between(0.001, 20.0)
        .within(0.0, 0.03, "leaflets round to two figures, about 3 %"),
    FieldSpec::number("principal_separation_mm", "principal separation H to H'", "mm", Range::Any)
        .means("Positive when H lies nearer the subject. Seldom published; calibration finds it.")
        .found_as("calibrated_principal_separation_mm")
        .within(1.0, 0.0, "published to the millimetre")
        .assumed(0.0, 8.0, "photograph a ruler at a known extension and calibrate"),
    FieldSpec::number("register_mm", "register it was built for", "mm", Range::Positive)
        .means("Only when it differs from the body's; a difference within the uncertainty of both counts as none.")
        .within(0.1, 0.0, "a register off by more would spoil infinity focus"),
    FieldSpec::of("focusing", "focusing", "", Shape::OneOf(&["unit", "internal"]))
        .means("\"unit\" when the whole lens moves, \"internal\" when its length stays."),
    shutter().means("A leaf shutter in the lens; its speeds replace the body's."),
    FieldSpec::of("bulb", "has B", "", Shape::Flag),
    FieldSpec::of("iris", "iris", "", Shape::OneOf(&["manual", "coupled"]))
        .means("\"coupled\" when it stops down only through the body's linkage."),
    thread("thread_mm").means("The thread in its front rim; without it nothing can be screwed there."),
    FieldSpec::words("design_form", "design form on the bench")
        .means("The published design that is most like it, or a lens table of your own, by its id. Rays are traced through that, as large as the lens."),
    FieldSpec::number("image_circle_mm", "image circle at infinity", "mm", Range::Positive).between(5.0, 1000.0),
    calibrated("calibrated_focal_length_mm", "focal length, calibrated", "mm", Range::Positive),
    calibrated("calibrated_travel_mm", "travel to the closest mark, calibrated", "mm", Range::NotNegative),
    calibrated("calibrated_principal_separation_mm", "principal separation, calibrated", "mm", Range::Any)
        .within(1.0, 0.0, "a calibration states its own uncertainty; one typed without is taken as good to 1 mm"),
    calibrated("calibrated_pupil_ratio", "pupil ratio, calibrated", "", Range::Positive),
];

/// A figure as calibration found it. It carries its own uncertainty; typed without one it is trusted like a careful
/// measurement.
const fn calibrated(name: &'static str, label: &'static str, unit: &'static str, range: Range) -> FieldSpec {
    FieldSpec::number(name, label, unit, range)
        .means("Found by calibration; it is used instead of the marked or assumed figure, which stays as it was.")
        .within(0.0, 0.01, "a calibration states its own uncertainty; one typed without is taken as good to 1 %")
}

static TUBE: &[FieldSpec] =
    &[mount(), length("length_mm", "length").must().between(0.3, 600.0), clear(), linkage(LINKAGE)];

static BELLOWS: &[FieldSpec] = &[
    mount(),
    FieldSpec::of("draw_mm", "draw, shortest and longest", "mm", Shape::Pair(Range::Positive))
        .must()
        .means("Between its two mount faces.")
        .between(3.0, 1500.0)
        .within(0.5, 0.0, "a rail's scale is read to about half a millimetre"),
    clear(),
    linkage(LINKAGE),
];

static CLOSE_UP_LENS: &[FieldSpec] = &[
    FieldSpec::number("power_dpt", "power", "dpt", Range::Positive)
        .must()
        .means("As engraved: 2 for +2.")
        .between(0.1, 60.0)
        .found_as("calibrated_power_dpt")
        .within(
            0.1,
            0.03,
            "powers are rounded to whole or half dioptres and their focal lengths keep within about 3 %",
        ),
    thread("thread_mm").must(),
    FieldSpec::number("gap_mm", "gap to the rim", "mm", Range::NotNegative)
        .means("From the rim that it is screwed into to its glass.")
        .within(1.0, 0.0, MEASURED_BY_RULE)
        .assumed(3.0, 2.0, "measure from the rim to the middle of the glass"),
    FieldSpec::of("make", "make", "", Shape::OneOf(&["singlet", "achromat"])),
    clear(),
    calibrated("calibrated_power_dpt", "power, calibrated", "dpt", Range::Positive),
];

static REVERSING_RING: &[FieldSpec] = &[
    mount(),
    thread("thread_mm").must(),
    thickness().between(0.0, 100.0).assumed(0.0, 3.0, "measure from the mount face to the rim it holds"),
    clear(),
];

static COUPLING_RING: &[FieldSpec] = &[
    FieldSpec::of("threads_mm", "its two threads", "mm", Shape::Pair(Range::Positive)).must().between(12.0, 250.0),
    thickness().between(0.0, 100.0).assumed(3.0, 2.0, "measure between the two rims it holds"),
    clear(),
];

static STEP_RING: &[FieldSpec] = &[
    FieldSpec::number("from_mm", "screws into", "mm", Range::Positive).must().between(12.0, 250.0),
    FieldSpec::number("to_mm", "takes", "mm", Range::Positive).must().between(12.0, 250.0),
    thickness().between(0.0, 100.0).assumed(0.0, 3.0, "measure between the two rims it holds"),
    clear(),
];

static TELECONVERTER: &[FieldSpec] = &[
    mount(),
    FieldSpec::number("factor", "factor", "×", Range::Above(1.0)).must().between(1.05, 4.0).within(
        0.0,
        0.03,
        "factors are rounded to a tenth: about 3 %",
    ),
    length("length_mm", "length").must().between(3.0, 300.0),
    FieldSpec::number("register_mm", "register it was built for", "mm", Range::Positive)
        .means("Only when it differs from the body's; a difference within the uncertainty of both counts as none.")
        .within(0.1, 0.0, "a register off by more would spoil infinity focus"),
    clear(),
    FieldSpec::of("iris_stays", "iris linkage ends here", "", Shape::Flag)
        .means("A converter usually hands the iris linkage on; yes here when this one does not."),
];

static ADAPTER: &[FieldSpec] = &[
    FieldSpec::words("lens_mount", "takes lenses of mount").must(),
    FieldSpec::words("body_mount", "fits bodies of mount").must(),
    FieldSpec::number("length_mm", "length", "mm", Range::NotNegative).must().within(0.2, 0.0, MACHINED),
    clear(),
    linkage(LINKAGE),
];

static FILM: &[FieldSpec] = &[
    FieldSpec::number("speed", "speed", "ISO", Range::Positive)
        .between(0.5, 25_600.0)
        .means("What the meter is set to for it."),
    FieldSpec::of("kind", "kind", "", Shape::OneOf(&["negative", "reversal"]))
        .means("What it is developed to: negatives forgive more than slides."),
    FieldSpec::of("times_s", "own test: times that were right", "s", Shape::Points)
        .means("Metered time = time that was right at the same aperture, as 1=1.3, 10=20, 100=400."),
    FieldSpec::of("open_stops", "own test: stops that were right", "stops", Shape::Points)
        .means("Metered time = stops that the lens was opened up, the time left as metered, as 1=1/3, 10=1."),
    FieldSpec::words("tested", "when and how it was tested"),
    FieldSpec::words("published_as", "published as").means(
        "The id that it has among the films that come with the program. Their figures stand beside yours, and are used where you give none.",
    ),
];

static LENS_TABLE: &[FieldSpec] = &[FieldSpec::words("surfaces", "surfaces")
    .must()
    .means("One surface to a line, light meeting the first line first: radius, gap to the next, glass behind it, V, half clear diameter. A lens stands on it by naming its id as its design form.")];

/// In the order of [`Kind::ALL`].
static SPECS: [KindSpec; 12] = [
    spec(Kind::Body, "body", "body", "bodies", BODY),
    spec(Kind::Lens, "lens", "lens", "lenses", LENS),
    spec(Kind::Tube, "tube", "tube", "tubes", TUBE),
    spec(Kind::Bellows, "bellows", "bellows", "bellows", BELLOWS),
    spec(Kind::CloseUpLens, "close_up_lens", "close-up lens", "close-up lenses", CLOSE_UP_LENS),
    spec(Kind::ReversingRing, "reversing_ring", "reversing ring", "reversing rings", REVERSING_RING),
    spec(Kind::CouplingRing, "coupling_ring", "coupling ring", "coupling rings", COUPLING_RING),
    spec(Kind::StepRing, "step_ring", "step ring", "step rings", STEP_RING),
    spec(Kind::Teleconverter, "teleconverter", "teleconverter", "teleconverters", TELECONVERTER),
    spec(Kind::Adapter, "adapter", "mount adapter", "mount adapters", ADAPTER),
    spec(Kind::Film, "film", "film", "films", FILM),
    spec(Kind::LensTable, "lens_table", "lens table", "lens tables", LENS_TABLE),
];

const fn spec(
    kind: Kind,
    table: &'static str,
    label: &'static str,
    plural: &'static str,
    fields: &'static [FieldSpec],
) -> KindSpec {
    KindSpec { kind, table, label, plural, fields }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_registry_has_no_gaps_and_no_doubles() {
        for kind in Kind::ALL {
            assert_eq!(kind.spec().kind, kind);
            let mut names: Vec<_> = kind.fields().map(|field| field.name).collect();
            names.sort_unstable();
            names.dedup();
            assert_eq!(names.len(), kind.fields().count(), "{kind:?} declares a field twice");
        }
    }
}
