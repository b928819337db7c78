//! What the virtual bench takes, as typed.

use crate::cli::values;
use clap::{Subcommand, ValueEnum};
use std::path::PathBuf;

/// What to do on the bench.
#[derive(Debug, Subcommand)]
pub enum Bench {
    /// Design forms from patents and textbooks, the nearest to a lens of yours first.
    Forms(BenchForms),
    /// What attachments make of a form: contrast, colour, light and distortion over the frame.
    SetUp(Box<BenchSetUp>),
    /// The same for a set-up of a kit, with the form that each lens of it names in its place.
    Kit(Box<BenchKit>),
    /// What scans of logged frames show beside what rays through their set-ups predict.
    Measured(BenchMeasured),
    /// Which form fits the measured frames of a lens best. Nothing is kept.
    Fit(BenchFit),
}

/// What can be seen of a lens.
#[derive(Debug, clap::Args)]
pub struct BenchForms {
    /// How many glass elements the lens has.
    #[arg(long, value_name = "N", value_parser = values::some_count)]
    pub elements: Option<usize>,
    /// Whether its front and back halves are alike, or nearly: true or false.
    #[arg(long, value_name = "true|false")]
    pub symmetric: Option<bool>,
    /// Glass to film at infinity against the focal length: less than half is short, more than the whole is long.
    #[arg(long, value_name = "short|usual|long")]
    pub back_focus: Option<BackFocusArg>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// How far behind its glass a lens is sharp.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum BackFocusArg {
    /// Less than half the focal length.
    Short,
    /// Between.
    Usual,
    /// More than the focal length.
    Long,
}

/// How a close-up lens is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum CloseUpArg {
    /// One glass, hollow behind.
    Meniscus,
    /// One glass, flat behind.
    PlanoConvex,
    /// Two glasses cemented.
    Cemented,
}

/// What a person focuses for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum FocusArg {
    /// As the first order has it.
    AsSet,
    /// The sharpest middle.
    Middle,
    /// The highest mean contrast at all places.
    Field,
    /// As on a ground glass, in the middle and a third of the way out.
    GroundGlass,
}

/// Where on the frame, and how finely.
#[derive(Debug, clap::Args)]
pub struct BenchTold {
    /// Places on film, in millimetres from the middle, with commas between; middle, half-way and corner when left out.
    #[arg(long, value_name = "MM,MM,...", value_delimiter = ',', value_parser = values::not_negative)]
    pub at_mm: Vec<f64>,
    /// Frequencies on film, with commas between; focus, the curves over the field and the map go by the first.
    #[arg(long, value_name = "LP,LP,...", value_delimiter = ',', default_value = "20,40", value_parser = values::positive)]
    pub lp_mm: Vec<f64>,
    /// Count the film too: the frequency at which it leaves half of the contrast.
    #[arg(long, value_name = "LP", value_parser = values::positive)]
    pub film_half_lp: Option<f64>,
}

/// What a predicted frame shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SubjectArg {
    /// A test card of slanted squares and greys.
    Card,
    /// The printed target card with its codes: measure frame --target reads the frame.
    Target,
    /// A stag beetle on it.
    Beetle,
    /// A seed pod on it.
    Pod,
    /// A quartz group on it.
    Crystal,
}

/// Measured frames.
#[derive(Debug, clap::Args)]
pub struct BenchMeasured {
    /// The notebook file; the one that `serve` uses when left out.
    #[arg(long, value_name = "PATH")]
    pub notebook: Option<PathBuf>,
    /// One job, by its number as in the address of its page; all when left out.
    #[arg(long, value_name = "J", allow_hyphen_values = true, value_parser = values::job)]
    pub job: Option<notebook::JobId>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// A lens whose form is looked for.
#[derive(Debug, clap::Args)]
pub struct BenchFit {
    /// The notebook file; the one that `serve` uses when left out.
    #[arg(long, value_name = "PATH")]
    pub notebook: Option<PathBuf>,
    /// The lens, by its id in the kit.
    #[arg(long, value_name = "ID")]
    pub lens: String,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// A set-up of a kit.
#[derive(Debug, clap::Args)]
pub struct BenchKit {
    #[command(flatten)]
    pub train: super::Train,
    /// The engraved f-number; the widest when left out.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::f_number)]
    pub f_number: Option<f64>,
    /// What it is focused for, as a person looks at the ground glass.
    #[arg(long, value_name = "FOR", default_value = "middle")]
    pub sharpest: FocusArg,
    #[command(flatten)]
    pub told: BenchTold,
    /// A file with a lens table of your own to stand for a lens, in the place of what the kit says: normal-85=FILE. May be given for
    /// every lens.
    #[arg(long, value_name = "LENS=FILE", value_parser = values::lens_and_file)]
    pub table: Vec<(String, PathBuf)>,
    #[command(flatten)]
    pub drawn: BenchFrame,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// A predicted frame.
#[derive(Debug, clap::Args)]
pub struct BenchFrame {
    /// Draw the predicted frame too, as a scan of 1000 samples to the inch, into this TIFF file.
    #[arg(long, value_name = "FILE")]
    pub frame: Option<PathBuf>,
    /// What lies in front of the lens in the predicted frame.
    #[arg(long, value_name = "WHAT", default_value = "card", requires = "frame")]
    pub subject: SubjectArg,
    /// Write over a file of that name.
    #[arg(long, requires = "frame")]
    pub force: bool,
}

/// A form with attachments.
#[derive(Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("second").args(["coupled", "coupled_table"]).multiple(true))]
pub struct BenchSetUp {
    /// A form's key, from closework bench forms.
    #[arg(long, value_name = "KEY", conflicts_with = "table")]
    pub form: Option<String>,
    /// A file with a lens table of your own: radius, gap, glass, V, half clear diameter, a surface to a line.
    #[arg(long, value_name = "FILE")]
    pub table: Option<PathBuf>,
    /// The lens's focal length in millimetres; as printed when left out.
    #[arg(long, value_name = "MM", value_parser = values::positive)]
    pub focal_mm: Option<f64>,
    /// The engraved f-number.
    #[arg(long, value_name = "N", value_parser = values::positive)]
    pub f_number: f64,
    /// Size on film over size of the subject; the lens is drawn out as far as that asks for.
    #[arg(long, value_name = "M", value_parser = values::positive, conflicts_with_all = ["extension_mm", "to_film_mm"])]
    pub magnification: Option<f64>,
    /// Tubes, bellows and travel together, in millimetres beyond infinity.
    #[arg(long, value_name = "MM", value_parser = values::not_negative, conflicts_with = "to_film_mm")]
    pub extension_mm: Option<f64>,
    /// The glass nearest to the film to the film, in millimetres.
    #[arg(long, value_name = "MM", value_parser = values::positive)]
    pub to_film_mm: Option<f64>,
    /// The lens is turned round.
    #[arg(long)]
    pub reversed: bool,
    /// A close-up lens in front, in dioptres.
    #[arg(long, value_name = "DPT", value_parser = values::positive)]
    pub close_up_dpt: Option<f64>,
    /// How the close-up lens is made.
    #[arg(long, value_name = "KIND", default_value = "meniscus")]
    pub close_up: CloseUpArg,
    /// Its clear diameter in millimetres.
    #[arg(long, value_name = "MM", default_value_t = 58.0, value_parser = values::positive)]
    pub close_up_mm: f64,
    /// The close-up lens the other way round.
    #[arg(long)]
    pub close_up_turned: bool,
    /// A second form turned round in front, by its key.
    #[arg(long, value_name = "KEY", conflicts_with = "close_up_dpt")]
    pub coupled: Option<String>,
    /// A file with a lens table of your own to be the second lens, turned round in front.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["close_up_dpt", "coupled"])]
    pub coupled_table: Option<PathBuf>,
    /// The second lens's focal length in millimetres.
    #[arg(long, value_name = "MM", value_parser = values::positive, requires = "second")]
    pub coupled_focal_mm: Option<f64>,
    /// What the second lens's own iris is opened to; as wide as its form is printed to go when left out.
    #[arg(long, value_name = "N", value_parser = values::positive, requires = "second")]
    pub coupled_f_number: Option<f64>,
    /// Glass to glass between the lens and what is in front of it, in millimetres.
    #[arg(long, value_name = "MM", default_value_t = 6.0, value_parser = values::not_negative)]
    pub gap_mm: f64,
    /// What it is focused for.
    #[arg(long, value_name = "FOR", default_value = "middle")]
    pub focus: FocusArg,
    /// The frame's sides on film, in millimetres, as 56x56.
    #[arg(long, value_name = "WxH", default_value = "56x56", value_parser = values::field)]
    pub frame_mm: [f64; 2],
    #[command(flatten)]
    pub told: BenchTold,
    #[command(flatten)]
    pub drawn: BenchFrame,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}
