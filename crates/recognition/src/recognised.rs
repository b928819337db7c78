//! What is asked, and what was found.

use measure::{
    AlignmentReport, ContrastReport, EdgeOptions, EdgeReport, EvennessReport, FieldLine, Figure, FringingReport,
    GeometryReport, GrainReport, LocalScale, Pooled, RampReport, ScaleReport, Shading, SoftnessReport, TiltReport,
};
use planes::Region;
use target::{Identity, Part, Zone};

use crate::error::LeftOut;

/// What is known besides the picture. Start from [`Options::default`].
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// From pixel to pixel on film (or sensor), micrometres: gives magnification and figures on film.
    pub pitch_um: Option<f64>,
    /// From the lens's entrance pupil along its axis to the subject, mm: gives the tilt.
    pub entrance_pupil_to_subject_mm: Option<Figure>,
    /// What a ruler says of the printed check line that should be 100 mm long, mm. Without it the printer's scale is taken
    /// to be good to half a per cent (common practice, no source).
    pub check_line_mm: Option<Figure>,
    /// Effective f-number at the film: with pitch and ramps it tells how much of a corner's softness is misalignment.
    pub effective_f_number: Option<f64>,
    /// The black trap was cut out over a dark box.
    pub trap_cut_out: bool,
    /// Reflectances of the fields of a grey scale that is stuck on a small card, lightest first, 0 to 1; empty when they are not
    /// known: then its fields are found all the same and tell no more than their light.
    pub grey_scale: Vec<f64>,
    /// How edges are measured; its limits of black and white count for patches too.
    pub edge: EdgeOptions,
}

impl Default for Options {
    /// Nothing known; fewer resamples than for a single edge, since many edges are pooled.
    fn default() -> Self {
        Self {
            pitch_um: None,
            entrance_pupil_to_subject_mm: None,
            check_line_mm: None,
            effective_f_number: None,
            trap_cut_out: false,
            grey_scale: Vec::new(),
            edge: EdgeOptions { resamples: 200, ..EdgeOptions::default() },
        }
    }
}

/// Half-width of the printer's scale when nobody measured it: half a per cent (common practice, no source).
pub const PRINTER_SCALE_PLUS_MINUS: f64 = 0.005;

/// A picture of a card, recognised and measured.
///
/// Lengths on the subject are true millimetres: the printed ones times what the check line says, and their intervals hold
/// the printer's doubt. Places in the picture are pixels from the outer corner of its top-left pixel.
#[derive(Debug, Clone, PartialEq)]
pub struct Recognised {
    /// Columns and rows of the picture.
    pub size_px: (u32, u32),
    /// Which print.
    pub identity: Identity,
    /// Field of the whole card, width and height, mm as printed.
    pub field_mm: [f64; 2],
    /// Bright and dark are exchanged.
    pub negative: bool,
    /// True lengths over printed ones: 1 unless a check line was measured; its interval is the printer's doubt.
    pub printed_scale: Figure,
    /// How the card lies.
    pub pose: Pose,
    /// Every sheet that was found; one, or up to five of a large card.
    pub sheets: Vec<SheetFound>,
    /// Every edge that was measured.
    pub edges: Vec<MeasuredEdge>,
    /// Edges of blades that lie on a small card, each named like its place: sharper than any print, they show the lens and the
    /// film without the print's softness, and are pooled with no printed edge.
    pub blades: Vec<MeasuredEdge>,
    /// Edges of one square and one direction together.
    pub by_square: Vec<Together>,
    /// Edges of one zone of the frame and one direction together.
    pub by_zone: Vec<Together>,
    /// Red and blue against green over the frame; its lengths are micrometres on film, or pixels where no pitch was given.
    pub fringing: Option<FringingReport>,
    /// The fringing's unit: true for micrometres on film, false for pixels (then every "µm" of it reads "pixel", and every
    /// "mm" a thousand pixels).
    pub fringing_in_um: bool,
    /// The rulers, as a check of the scale that the squares gave.
    pub rulers: Vec<RulerFound>,
    /// Grey steps, printed or stuck on, the trap and the white beside it.
    pub patches: Vec<Patch>,
    /// Contrast and veiling glare.
    pub contrast: Option<ContrastReport>,
    /// How evenly the card is lit.
    pub evenness: Option<Evenness>,
    /// Grain of a blank patch.
    pub grain: Option<Grain>,
    /// The focus ramps, or the tilted rule of a small card.
    pub ramps: Vec<RampFound>,
    /// How the sharp surface lies, from the ramps.
    pub alignment: Option<AlignmentReport>,
    /// A sharp surface curved the other way, where it fits as well: then how far the middle is out of focus is seen, not on which side.
    pub alignment_otherwise: Option<AlignmentReport>,
    /// For each corner the share of its softness that misalignment explains.
    pub softness: Vec<CornerSoftness>,
    /// What could not be taken, where and why.
    pub left_out: Vec<LeftOut>,
    /// Reservations about the whole.
    pub remarks: Vec<Remark>,
}

/// How the card lies in the picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Pose {
    /// The picture shows the card from behind, as a film scanned from the wrong side does.
    pub mirrored: bool,
    /// The card's turn in the picture, clockwise, degrees, -180 to 180: to be turned back by for the card to stand
    /// upright. Of a mirrored picture it is the turn that is left once the picture is mirrored left to right.
    pub turn_deg: Figure,
    /// The nearest quarter turn, 0 to 3 times 90 degrees clockwise.
    pub quarter_turns: u8,
    /// What is left besides the quarter turns, degrees.
    pub lean_deg: f64,
    /// Pixels per true millimetre at the middle of the frame (of the sheet, where the frame's middle shows none), along the card's axes.
    pub scale_px_per_mm: LocalScale,
    /// Magnification on film, with the printer's doubt in its interval; needs the pitch.
    pub magnification: Option<Figure>,
    /// The card's middle from the frame's middle, true mm along the picture's axes (right, down).
    pub shift_mm: (f64, f64),
    /// The same, pixels.
    pub shift_px: (f64, f64),
    /// Distortion at half the picture's diagonal, per cent; positive is pincushion. Mean of all sheets that tell it.
    pub distortion_percent: Option<Figure>,
    /// Tilt of the card against the film; needs the distance of the entrance pupil.
    pub tilt: Option<TiltReport>,
    /// Standard deviation of a corner's coordinate about the flat card, pixels.
    pub residual_px: Option<f64>,
}

/// One sheet as found.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetFound {
    /// Which.
    pub part: Part,
    /// Its codes that were read.
    pub codes: Vec<target::Corner>,
    /// From its millimetres (as printed, from its middle) to the picture and back, with residuals.
    pub geometry: GeometryReport,
    /// Its squares that took part.
    pub squares: Vec<SquareFound>,
}

/// A square as found.
#[derive(Debug, Clone, PartialEq)]
pub struct SquareFound {
    /// Its name.
    pub name: &'static str,
    /// Its corners in the picture, pixels, in the order of `target::Square::corners`.
    pub corners_px: [(f64, f64); 4],
    /// The farthest that one of them lies from where the flat sheet says, pixels.
    pub residual_px: f64,
}

/// A frequency at which a response falls to one half, in all units that are known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fineness {
    /// Cycles per pixel.
    pub cy_px: Figure,
    /// Line pairs per mm on film; needs the pitch.
    pub film_lp_mm: Option<Figure>,
    /// Line pairs per true mm on the subject, at that place of the picture.
    pub subject_lp_mm: Figure,
}

/// One edge as measured.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredEdge {
    /// The sheet.
    pub part: Part,
    /// The square's name.
    pub square: &'static str,
    /// Which of its sides, 0 to 3 as in `target::Square::edges`.
    pub side: usize,
    /// How far out in the frame, by the same limits as on the card.
    pub zone: Zone,
    /// Against the radius from the frame's middle.
    pub line: FieldLine,
    /// Distance from the frame's middle over half its diagonal.
    pub radius_share: f64,
    /// The region that was measured.
    pub region: Region,
    /// Its middle, pixels.
    pub place_px: (f64, f64),
    /// Direction of the normal from the square outwards, degrees from the picture's x axis toward its lower side.
    pub outward_deg: f64,
    /// What was measured.
    pub report: EdgeReport,
    /// Where luminance falls to one half; `None` when noise hides it or the curve does not.
    pub mtf50: Option<Fineness>,
    /// The print itself is soft: what this edge can prove.
    pub print_limit: Option<PrintLimit>,
}

/// The printed edge is nearly as soft as what was found: the lens is at least that good, and may be better.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PrintLimit {
    /// Found, line pairs per mm on the subject.
    pub found_lp_mm: f64,
    /// Finest that a printed edge can prove: where it has itself lost half its contrast, line pairs per mm on the subject.
    pub provable_lp_mm: f64,
}

/// Several edges together.
#[derive(Debug, Clone, PartialEq)]
pub struct Together {
    /// The sheet and square, or `None` for a zone of the frame.
    pub square: Option<(Part, &'static str)>,
    /// The zone.
    pub zone: Zone,
    /// Against the radius.
    pub line: FieldLine,
    /// Indices into [`Recognised::edges`].
    pub edges: Vec<usize>,
    /// Their curves and MTF50 together.
    pub pooled: Pooled,
    /// The weighted mean of MTF50 in all units.
    pub mtf50: Option<Fineness>,
}

/// A ruler as found.
#[derive(Debug, Clone, PartialEq)]
pub struct RulerFound {
    /// The sheet.
    pub part: Part,
    /// "level" or "upright".
    pub name: &'static str,
    /// What was measured, in printed millimetres.
    pub report: ScaleReport,
    /// Pixels per printed mm that the squares give along the same stretch.
    pub expected_px_per_mm: f64,
    /// Ruler over squares, minus one, per cent.
    pub differs_percent: f64,
}

/// What a patch is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PatchKind {
    /// A printed grey step, by its number.
    Step(usize),
    /// A field of a stuck-on grey scale, counted from the lightest, 1 on.
    Stuck(usize),
    /// The black trap.
    Trap,
    /// Blank paper beside steps and trap.
    White,
}

/// An even patch.
#[derive(Debug, Clone, PartialEq)]
pub struct Patch {
    /// The sheet.
    pub part: Part,
    /// What.
    pub kind: PatchKind,
    /// Reflectance that it is meant to have; `None` of a grey scale whose fields were not stated.
    pub reflectance: Option<f64>,
    /// Where.
    pub region: Region,
    /// Mean linear light, 0 to 1: red, green, blue, or three times the same for a grey picture.
    pub light: [f64; 3],
    /// Mean luminance.
    pub luminance: f64,
    /// Standard deviation of luminance.
    pub deviation: f64,
    /// Share of samples at the ends of the range.
    pub clipped: f64,
}

/// The light of blank paper at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundSample {
    /// Where, pixels.
    pub place_px: (f64, f64),
    /// Mean luminance, linear, 0 to 1.
    pub luminance: f64,
    /// Red, green and blue; `None` for a grey picture.
    pub colours: Option<[f64; 3]>,
}

/// How evenly the card is lit.
#[derive(Debug, Clone, PartialEq)]
pub struct Evenness {
    /// Blank places all over the frame.
    pub samples: Vec<GroundSample>,
    /// The surface that follows their luminance.
    pub report: EvennessReport,
    /// Red and blue against green; empty for a grey picture.
    pub shading: Vec<Shading>,
}

/// Grain of a blank patch.
#[derive(Debug, Clone, PartialEq)]
pub struct Grain {
    /// Where.
    pub region: Region,
    /// What it is, in luminance.
    pub report: GrainReport,
}

/// A focus ramp as found.
#[derive(Debug, Clone, PartialEq)]
pub struct RampFound {
    /// The sheet.
    pub part: Part,
    /// Its corner, or "rule".
    pub name: &'static str,
    /// From bar to bar along it, true mm: of a rule the distance of its ticks, which its own picture tells.
    pub bar_mm: f64,
    /// Height over which the contrast at a place of it is averaged, true mm.
    pub window_mm: f64,
    /// The harmonic of the bars whose contrast was followed: 1 for a printed strip; a rule's thin ticks are often followed by finer
    /// detail.
    pub harmonic: usize,
    /// Detail that was followed, line pairs per mm of the subject as seen from above.
    pub subject_lp_mm: f64,
    /// Its mark in the picture, pixels.
    pub place_px: (f64, f64),
    /// Where its sharpest plane is seen in the picture, pixels.
    pub sharpest_px: (f64, f64),
    /// Modulation along it: height above the card in true mm, toward the camera, and the bars' modulation.
    pub modulation: Vec<(f64, Figure)>,
    /// Where the sharpest plane lay and how deep it is, in true millimetres.
    pub report: RampReport,
}

/// What misalignment has to do with a corner's softness.
#[derive(Debug, Clone, PartialEq)]
pub struct CornerSoftness {
    /// The square.
    pub square: &'static str,
    /// The sheet.
    pub part: Part,
    /// The sharp surface's height over the card there, mm.
    pub height_mm: Figure,
    /// Frequency at which corner and centre are compared: the centre's MTF50, cycles per pixel.
    pub cy_px: f64,
    /// What it explains.
    pub report: SoftnessReport,
    /// What it explains if the sharp surface is curved the other way, where that fits as well.
    pub otherwise: Option<SoftnessReport>,
}

/// A reservation about the whole.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Remark {
    /// The picture shows the card from behind; all figures are of the picture as it is.
    Mirrored,
    /// The picture is a negative: sharpness is that of the film's own tones.
    Negative,
    /// The printer's scale was not checked; half a per cent is allowed for it.
    PrinterScaleAssumed,
    /// Codes of other prints are in the picture; the one with most codes was taken.
    OtherCards {
        /// How many.
        count: usize,
    },
    /// Figures that the print itself limits.
    PrintLimits {
        /// How many edges.
        edges: usize,
        /// Finest that a printed edge can prove, line pairs per mm on the subject.
        provable_lp_mm: f64,
    },
    /// A ruler's scale and that of the squares are apart.
    RulerDiffers {
        /// The ruler.
        name: &'static str,
        /// By how much, per cent.
        percent: f64,
    },
}

impl std::fmt::Display for Remark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Mirrored => {
                f.write_str("the picture shows the card from behind: the film was scanned from the wrong side, or mirrored later")
            }
            Self::Negative => f.write_str(
                "the picture is a negative: sharpness is that of the film's own tones, and no tones of the subject are given",
            ),
            Self::PrinterScaleAssumed => write!(
                f,
                "the printed check line was not measured: half a per cent is allowed for the printer's scale; measure the line \
                 and give its length"
            ),
            Self::OtherCards { count } => write!(f, "{count} other card(s) are in the picture; the one that shows most was taken"),
            Self::PrintLimits { edges, provable_lp_mm } => write!(
                f,
                "{edges} edges are about as sharp as the print itself, which can prove up to {provable_lp_mm:.0} line pairs per mm on the subject: \
                 the picture is at least that sharp and may be sharper; a blade's edge would tell"
            ),
            Self::RulerDiffers { name, percent } => {
                write!(f, "the {name} ruler and the squares are {percent:+.2} % apart: the sheet is bent, or the printer's feed uneven")
            }
        }
    }
}
