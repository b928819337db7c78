//! The commands and what they take, as typed.

mod bench;

use super::values;
use clap::{Parser, Subcommand};
use std::net::SocketAddr;
use std::path::PathBuf;

pub use bench::{
    BackFocusArg, Bench, BenchFit, BenchForms, BenchFrame, BenchKit, BenchMeasured, BenchSetUp, BenchTold, CloseUpArg,
    FocusArg, SubjectArg,
};

/// Close-up photography on film: plan the set-up, expose, measure the scans, compare, decide.
#[derive(Debug, Parser)]
#[command(name = "closework", version, disable_help_subcommand = false)]
pub struct Args {
    /// Without a command: serve.
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Serve the web pages on this machine.
    Serve(Serve),
    /// One set-up in full: size, distances, light, depth, diffraction.
    Setup(Setup),
    /// Every set-up that a kit can make, and the magnifications it reaches.
    Reach(Reach),
    /// From a job to the set-ups worth choosing between: light, room, glass, depth and enlargement against each other.
    Plan(Plan),
    /// From set-ups to the frames that tell which is good enough for a job, at which aperture, on the rolls at hand.
    TestRoll(TestRoll),
    /// From a hand-held meter's reading to the shutter speed to set.
    #[command(after_help = EXPOSING)]
    Exposure(Exposure),
    /// What to set for a flash, by its guide number or by a flash meter.
    #[command(after_help = FLASHING)]
    Flash(Flash),
    /// Films with what they lose in long exposures, and where it is published; filters too.
    Films(Films),
    /// A lens's true figures from frames of a ruler, and a close-up lens's power.
    #[command(after_long_help = CALIBRATING)]
    Calibrate(Calibrate),
    /// A target card for a field, as a PDF at true scale: it is photographed and measured.
    Target(Target),
    /// Pocket cards of set-ups: a PDF to print, or a page for a phone that works without a network.
    Pocket(Pocket),
    /// Measure a scan.
    #[command(subcommand)]
    Measure(Measure),
    /// Exact rays through published lens forms with tubes, close-up lenses, turned round or coupled.
    #[command(subcommand)]
    Bench(Bench),
    /// Which set-ups are good enough for what, what each part is good for, and the cheapest kit, from what was measured.
    Verdict(Verdict),
    /// A job as a report: a PDF, a page that needs nothing beside it, and the figures as CSV and JSON.
    Report(Report),
    /// What is known of a job's scans as XMP sidecars, written beside the scans only when a folder is named.
    Sidecars(Sidecars),
    /// The frames of a job as a table (CSV), out and in.
    #[command(subcommand)]
    Frames(Frames),
}

/// What to do with the table.
#[derive(Debug, Subcommand)]
pub enum Frames {
    /// Print all frames of a job with settings, scans and measured figures.
    Out(OfJob),
    /// Read a log that was kept on paper and typed into a table.
    In(ReadIn),
    /// Print a table to fill in; with a job, with its planned frames.
    Template(Template),
}

/// One job of a notebook.
#[derive(Debug, clap::Args)]
pub struct OfJob {
    /// The notebook file; the one that `serve` uses when left out.
    #[arg(long, value_name = "PATH")]
    pub notebook: Option<PathBuf>,
    /// The job's number, as in the address of its page.
    #[arg(long, value_name = "J", allow_hyphen_values = true, value_parser = values::job)]
    pub job: notebook::JobId,
}

/// A verdict.
#[derive(Debug, clap::Args)]
pub struct Verdict {
    /// The notebook file; the one that `serve` uses when left out.
    #[arg(long, value_name = "PATH")]
    pub notebook: Option<PathBuf>,
    /// One job, by its number as in the address of its page; without it all jobs together.
    #[arg(long, value_name = "J", allow_hyphen_values = true, value_parser = values::job)]
    pub job: Option<notebook::JobId>,
    /// The probability from which a set-up counts as serving.
    #[arg(long, value_name = "P", default_value_t = 0.95, allow_hyphen_values = true, value_parser = values::sure)]
    pub sure: f64,
    /// Worlds drawn from the doubts, to tell how sure the kit is.
    #[arg(long, value_name = "N", default_value_t = 500, allow_hyphen_values = true, value_parser = values::worlds)]
    pub worlds: usize,
    /// Which worlds.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// A report.
#[derive(Debug, clap::Args)]
pub struct Report {
    #[command(flatten)]
    pub of: OfJob,
    /// The folder into which the four files go; made when it is not there.
    #[arg(long, value_name = "FOLDER")]
    pub out: PathBuf,
    /// Write over files of the same names.
    #[arg(long)]
    pub force: bool,
}

/// Sidecars.
#[derive(Debug, clap::Args)]
pub struct Sidecars {
    #[command(flatten)]
    pub of: OfJob,
    /// Write them beside the scans that lie in this folder by the names under which they were loaded. Never over a file that
    /// Closework did not make, or that was changed since.
    #[arg(long, value_name = "FOLDER")]
    pub beside: Option<PathBuf>,
    /// Put .xmp behind a scan's ending (a.tif.xmp) instead of in its place (a.xmp).
    #[arg(long)]
    pub keep_ending: bool,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// A table to read.
#[derive(Debug, clap::Args)]
pub struct ReadIn {
    /// The table: CSV with commas, semicolons or tabs.
    pub table: PathBuf,
    #[command(flatten)]
    pub of: OfJob,
    /// Keep what was read; without this it is only said what would change.
    #[arg(long)]
    pub keep: bool,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// A table to fill in.
#[derive(Debug, clap::Args)]
pub struct Template {
    /// The notebook file; the one that `serve` uses when left out.
    #[arg(long, value_name = "PATH")]
    pub notebook: Option<PathBuf>,
    /// The job whose planned frames stand in it already.
    #[arg(long, value_name = "J", allow_hyphen_values = true, value_parser = values::job)]
    pub job: Option<notebook::JobId>,
}

impl Default for Command {
    fn default() -> Self {
        Self::Serve(Serve::default())
    }
}

/// What to measure.
#[derive(Debug, Subcommand)]
pub enum Measure {
    /// One slanted edge: sharpness, colour fringing, contrast.
    Edge(Edge),
    /// Scale and magnification along a ruler.
    Scale(Scale),
    /// Everything that a frame holds: by the printed target card, else by the edges that are found.
    Frame(Frame),
}

/// Where the pages are served from.
#[derive(Debug, Default, clap::Args)]
pub struct Serve {
    /// The notebook file; made when it is not there.
    #[arg(long, value_name = "PATH")]
    pub notebook: Option<PathBuf>,
    /// Address on this machine to listen on; port 0 takes a free one.
    #[arg(long, value_name = "127.0.0.1:PORT", allow_hyphen_values = true, value_parser = values::address)]
    pub listen: Option<SocketAddr>,
    /// Where phones reach the log once they are let in on the page “Phones”; port 4621 of every network when left out.
    #[arg(long, value_name = "ADDRESS:PORT", allow_hyphen_values = true, value_parser = values::address)]
    pub phones_at: Option<SocketAddr>,
    /// Let pages of this site, such as http://localhost:8000, read pictures of the scans by the IIIF Image API; may be given
    /// several times. “any” is every site that a browser on this machine has open.
    #[arg(long, value_name = "SITE", allow_hyphen_values = true)]
    pub pictures_for: Vec<crate::web::PictureReader>,
    /// Do not open a browser.
    #[arg(long)]
    pub no_browser: bool,
    /// Do not put the example into a new notebook.
    #[arg(long)]
    pub no_example: bool,
}

/// The parts and how they are set.
#[derive(Debug, clap::Args)]
pub struct Train {
    /// The kit file.
    #[arg(long, value_name = "KIT")]
    pub kit: PathBuf,
    /// Parts from the body outwards to the subject, by id; a bellows as ID=DRAW in mm. What is held by hand follows
    /// free=MM, and a lens held so may be turned round as ID=reversed.
    #[arg(long, value_name = "ID,ID,...", value_delimiter = ',', required = true)]
    pub parts: Vec<String>,
    /// infinity, closest, travel=MM, or distance=MM as on the lens's own scale.
    #[arg(long, default_value = "infinity", allow_hyphen_values = true)]
    pub focus: kit::Focus,
}

/// One set-up.
#[derive(Debug, clap::Args)]
pub struct Setup {
    #[command(flatten)]
    pub train: Train,
    /// The engraved f-number; the widest when left out.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::f_number)]
    pub f_number: Option<f64>,
    /// The largest disc on film that counts as sharp; the frame's diagonal / 1500 when left out.
    #[arg(long, value_name = "C", allow_hyphen_values = true, value_parser = values::positive)]
    pub coc_mm: Option<f64>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// A kit's set-ups.
#[derive(Debug, clap::Args)]
pub struct Reach {
    /// The kit file.
    #[arg(long, value_name = "KIT")]
    pub kit: PathBuf,
    /// Only on this body.
    #[arg(long, value_name = "ID")]
    pub body: Option<String>,
    /// The magnification wanted, size on film over size of the subject: 0.5 or 1:2.
    #[arg(long, value_name = "M", allow_hyphen_values = true, value_parser = values::magnification)]
    pub magnification: Option<f64>,
    /// Tubes in one set-up at most; three when left out.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::count)]
    pub tubes: Option<usize>,
    /// Bellows in one set-up at most; one when left out.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::count)]
    pub bellows: Option<usize>,
    /// Close-up lenses in one set-up at most; two when left out.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::count)]
    pub close_ups: Option<usize>,
    /// Teleconverters in one set-up: none or one.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::none_or_one)]
    pub converters: Option<usize>,
    /// Lenses in one set-up: one, or two where they may be coupled.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::one_or_two)]
    pub lenses: Option<usize>,
    /// List at most this many.
    #[arg(long, value_name = "N", default_value_t = 200, allow_hyphen_values = true, value_parser = values::count)]
    pub limit: usize,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// A test to plan: a job, the set-ups that are compared, the rolls.
#[derive(Debug, clap::Args)]
pub struct TestRoll {
    /// The job.
    #[command(flatten)]
    pub job: Plan,
    /// A set-up, its parts from the body outwards with commas between; once for each.
    #[arg(long = "setup", value_name = "ID,ID,...", required = true)]
    pub setups: Vec<String>,
    /// Frames left on a roll at hand; once for each roll, one of 12 when left out.
    #[arg(long = "roll", value_name = "FRAMES", default_value = "12", allow_hyphen_values = true, value_parser = values::roll)]
    pub rolls: Vec<u32>,
    /// Whole stops around the best aperture.
    #[arg(long, value_name = "N", default_value_t = 3)]
    pub apertures: usize,
    /// Effective f-numbers in place of that, with commas between.
    #[arg(long, value_name = "N,N,...", value_delimiter = ',', value_parser = values::positive)]
    pub effective: Vec<f64>,
    /// From click to click of the aperture rings, in stops.
    #[arg(long, value_name = "STOPS", default_value_t = 0.5, value_parser = values::positive)]
    pub click_stops: f64,
    /// The difference that is to be told, in lp/mm on film; a fifth of the detail needed when left out.
    #[arg(long, value_name = "LP", value_parser = values::positive)]
    pub difference_lp_mm: Option<f64>,
    /// One standard deviation of takes, in lp/mm on film; a twentieth of the detail needed when left out.
    #[arg(long, value_name = "LP", value_parser = values::positive)]
    pub scatter_lp_mm: Option<f64>,
    /// Frames less set-ups of the test that the scatter was measured with; 0 when it is a guess.
    #[arg(long, value_name = "N", default_value_t = 0, requires = "scatter_lp_mm")]
    pub scatter_repeats: usize,
    /// Half of where 95 % of the focusing falls, in millimetres on the subject; what the screen shows when left out.
    #[arg(long, value_name = "MM", value_parser = values::not_negative)]
    pub focus_mm: Option<f64>,
    /// Frames of a focus bracket at most, odd; 1 for none.
    #[arg(long, value_name = "N")]
    pub longest_bracket: Option<usize>,
    /// How much two set-ups may differ in magnification: 0.02 or 2%.
    #[arg(long, value_name = "SHARE", value_parser = values::share)]
    pub tolerance: Option<f64>,
    /// What is taken at start and end to show a drift.
    #[arg(long, value_enum, default_value_t = TestControl::First)]
    pub control: TestControl,
    /// Takes once through all set-ups and back again, against drift, at the price of more changes.
    #[arg(long)]
    pub there_and_back: bool,
    /// Do not put set-ups on other tubes or bellows to bring them to one size.
    #[arg(long)]
    pub own_tubes_only: bool,
}

/// What the control of a test is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum TestControl {
    /// The first set-up.
    First,
    /// The first set-up's lens, bare at its closest mark.
    Bare,
    /// Nothing.
    None,
}

/// A job to plan.
#[derive(Debug, clap::Args)]
pub struct Plan {
    /// The kit file.
    #[arg(long, value_name = "KIT")]
    pub kit: PathBuf,
    /// The subject's longest side, or both sides: 40 or 40x25, in millimetres.
    #[arg(long, value_name = "L[xS]", value_parser = values::sides)]
    pub subject: (f64, Option<f64>),
    /// Its depth along the line of sight.
    #[arg(long, value_name = "D", allow_hyphen_values = true, value_parser = values::positive)]
    pub depth_mm: Option<f64>,
    /// How much of that depth is to be sharp; all of it when left out.
    #[arg(long, value_name = "D", allow_hyphen_values = true, value_parser = values::positive)]
    pub sharp_mm: Option<f64>,
    /// How much of the frame's shorter side it fills: 0.7 or 70%.
    #[arg(long, value_name = "SHARE", default_value = "0.8", allow_hyphen_values = true, value_parser = values::share)]
    pub fill: f64,
    /// Long side of the print of the whole frame, in millimetres.
    #[arg(long, value_name = "MM", allow_hyphen_values = true, value_parser = values::positive)]
    pub print_mm: f64,
    /// Detail wanted on paper, in line pairs per millimetre.
    #[arg(long, value_name = "LP", default_value_t = 5.0, allow_hyphen_values = true, value_parser = values::positive)]
    pub criterion_lp_mm: f64,
    /// Contrast left in it: 0.2 or 20%.
    #[arg(long, value_name = "SHARE", default_value = "0.2", allow_hyphen_values = true, value_parser = values::share)]
    pub contrast: f64,
    /// Room needed in front, in millimetres.
    #[arg(long, value_name = "MM", allow_hyphen_values = true, value_parser = values::positive)]
    pub room_mm: Option<f64>,
    /// Light that may be lost, in stops.
    #[arg(long, value_name = "S", allow_hyphen_values = true, value_parser = values::not_negative)]
    pub stops: Option<f64>,
    /// How much of the frame's sides may be cropped away: 0.2 or 20%.
    #[arg(long, value_name = "SHARE", default_value = "0", allow_hyphen_values = true, value_parser = values::crop)]
    pub crop: f64,
    /// Pitch of the scans that predictions are for, in µm on film; that of 4000 samples to the inch, 6.35, when left out.
    #[arg(long, value_name = "P", allow_hyphen_values = true, value_parser = values::positive)]
    pub pitch_um: Option<f64>,
    /// Only on this body.
    #[arg(long, value_name = "ID")]
    pub body: Option<String>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// An exposure.
#[derive(Debug, clap::Args)]
pub struct Exposure {
    #[command(flatten)]
    pub train: Train,
    /// The engraved f-number in use.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::f_number)]
    pub f_number: f64,
    /// The meter's reading in seconds: 0.5 or 1/125.
    #[arg(long, value_name = "T", allow_hyphen_values = true, value_parser = values::seconds)]
    pub metered_s: f64,
    /// The f-number that the meter was set to; --f-number when left out.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::f_number)]
    pub metered_f_number: Option<f64>,
    /// The reading was taken of one spot, which is to come out so many stops brighter than middle grey (below 0: darker).
    #[arg(long, value_name = "STOPS", allow_hyphen_values = true, value_parser = values::number, conflicts_with = "card")]
    pub spot: Option<f64>,
    /// The reading was taken of a card that reflects so much: 18 for a grey card, 90 for white paper, in per cent.
    #[arg(long, value_name = "PERCENT", allow_hyphen_values = true, value_parser = values::reflected)]
    pub card: Option<f64>,
    /// How sure the reading is, in stops (95 %); it is taken as it stands when left out.
    #[arg(long, value_name = "STOPS", default_value_t = 0.0, allow_hyphen_values = true, value_parser = values::not_negative)]
    pub reading_doubt: f64,
    #[command(flatten)]
    pub before_film: BeforeFilm,
    /// At most so many frames in a bracket.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::some_count)]
    pub frames: Option<usize>,
    /// How fast the subject or the camera moves across the view, in mm/s.
    #[arg(long, value_name = "V", allow_hyphen_values = true, value_parser = values::not_negative)]
    pub moving_mm_s: Option<f64>,
    /// What may be smeared on film, in micrometres; the disc that counts as sharp when left out.
    #[arg(long, value_name = "B", allow_hyphen_values = true, value_parser = values::positive, requires = "moving_mm_s")]
    pub blur_um: Option<f64>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// The film, and what stands in front of the lens.
#[derive(Debug, clap::Args)]
pub struct BeforeFilm {
    /// A film: one of the kit, or one of those that "closework films" lists.
    #[arg(long, value_name = "ID")]
    pub film: Option<String>,
    /// Light that filters of your own take, in stops, all together.
    #[arg(long, value_name = "S", default_value_t = 0.0, allow_hyphen_values = true, value_parser = values::not_negative)]
    pub filter_stops: f64,
    /// Factors of filters of your own, each by itself.
    #[arg(long, value_name = "F,F,...", value_delimiter = ',', allow_hyphen_values = true, value_parser = values::positive)]
    pub filter_factor: Vec<f64>,
    /// Filters of the published table, by id.
    #[arg(long, value_name = "ID,ID,...", value_delimiter = ',')]
    pub filter: Vec<String>,
    /// daylight (flash too) or tungsten, for the filters of the published table.
    #[arg(long, value_name = "LIGHT", default_value = "daylight", value_parser = values::lamp)]
    pub light: film::Lamp,
}

/// Where caution belongs.
const EXPOSING: &str = "Hot lamps burn skin and specimens: keep them off while you focus. Never look through a lens at the sun. Local rules and the makers' instructions come first.";

/// A flash.
#[derive(Debug, clap::Args)]
pub struct Flash {
    #[command(flatten)]
    pub train: Train,
    /// The engraved f-number in use.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::f_number)]
    pub f_number: f64,
    /// Guide number with its unit, 28m or 92ft; metres when none is given. Twice for two flashes.
    #[arg(long, value_name = "GN", allow_hyphen_values = true, value_parser = values::metres, conflicts_with = "flash_meter")]
    pub guide_number: Vec<f64>,
    /// The speed that the guide number is stated for.
    #[arg(long, value_name = "ISO", default_value_t = 100.0, allow_hyphen_values = true, value_parser = values::positive)]
    pub guide_iso: f64,
    /// Beam candlepower seconds instead of a guide number. Twice for two flashes.
    #[arg(long, value_name = "BCPS", allow_hyphen_values = true, value_parser = values::positive, conflicts_with_all = ["guide_number", "flash_meter"])]
    pub bcps: Vec<f64>,
    /// Flash to subject with its unit: 400mm, 40cm, 0.4m, 16in or 1.3ft. Twice for two flashes.
    #[arg(long, value_name = "D", allow_hyphen_values = true, value_parser = values::distance, conflicts_with = "flash_meter")]
    pub distance: Vec<f64>,
    /// The share of its power: 1/4 or 0.25. Twice for two flashes.
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true, value_parser = values::power)]
    pub power: Vec<f64>,
    /// Width of its reflector with its unit, as 70mm. Twice for two flashes.
    #[arg(long, value_name = "W", allow_hyphen_values = true, value_parser = values::distance)]
    pub reflector: Vec<f64>,
    /// What a flash meter at the subject says instead, set to the film's speed.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::f_number)]
    pub flash_meter: Option<f64>,
    /// The film's speed; the film's own when left out.
    #[arg(long, value_name = "ISO", allow_hyphen_values = true, value_parser = values::positive)]
    pub iso: Option<f64>,
    /// How long the flash burns: 1/10000. Only then the film's loss in very short exposures is counted.
    #[arg(long, value_name = "T", allow_hyphen_values = true, value_parser = values::seconds)]
    pub burns_s: Option<f64>,
    #[command(flatten)]
    pub before_film: BeforeFilm,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// Where caution belongs.
const FLASHING: &str =
    "Never fire a flash near eyes, a person's or an animal's. Local rules and the makers' instructions come first.";

/// Films.
#[derive(Debug, clap::Args)]
pub struct Films {
    /// Only this film, with all its figures.
    #[arg(value_name = "ID")]
    pub film: Option<String>,
    /// A kit file, whose own films come first.
    #[arg(long, value_name = "KIT")]
    pub kit: Option<PathBuf>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// What a calibrating file looks like; all of it stands in CALIBRATING.md.
const CALIBRATING: &str = r#"The calibrating file is TOML, one entry a frame; ids are the kit's, and what is not known is left out:

  [[frame]]
  label = "A2"
  parts = ["copy-stand-6x6", "tube-52", "normal-85"]
  focus = "infinity"               # or "closest", "travel=3.5"
  magnification = 0.6138           # or px_per_mm = 96.7 with pitch_um = 6.35
  subject_to_film_mm = 352         # when it was measured: it tells the principal separation

  [[pupil]]                        # the stopped-down lens from each end
  side = "front"                   # and another with "back"
  diameter_px = 412
  px_per_mm = 22.5                 # left out when one camera took both from one distance

  [[close_up]]                     # a ruler without and with a close-up lens, at one focus
  part = "plus-4"
  lens = "normal-85"
  focus = "closest"                # at "infinity" there is no magnification_without
  magnification_without = 0.117
  magnification_with = 0.468

A number may carry its half-width (95 %): { value = 0.6138, plus_minus = 0.002 }. A plain one is trusted to: magnification 0.5 %, px_per_mm 0.2 %, a distance 2 mm, a travel 0.3 mm, a disc 2 %; lengths of tubes come from the kit with theirs. All magnifications together are trusted to common_scale = 0.003 at the head of the file. Begin with a ruler at the infinity mark on one tube, on another, and on both; then at the closest mark."#;

/// A calibration.
#[derive(Debug, clap::Args)]
pub struct Calibrate {
    /// The kit file.
    #[arg(long, value_name = "KIT")]
    pub kit: PathBuf,
    /// The calibrating file.
    #[arg(long, value_name = "FILE")]
    pub from: PathBuf,
    /// Only this lens or close-up lens, of a file about several.
    #[arg(long, value_name = "ID")]
    pub lens: Option<String>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
    /// Write the kit with the calibrated figures to this new file; set-ups then use them.
    #[arg(long, value_name = "NEWKIT")]
    pub save: Option<PathBuf>,
}

/// A target card.
#[derive(Debug, clap::Args)]
pub struct Target {
    /// The field that is photographed, width or both sides: 56 or 56x42, in millimetres; square when one is given.
    #[arg(long, value_name = "W[xH]", allow_hyphen_values = true, value_parser = values::field)]
    pub field_mm: [f64; 2],
    /// a4 or letter.
    #[arg(long, value_name = "PAPER", default_value = "a4", value_parser = super::target::paper)]
    pub paper: target::Paper,
    /// Which print this is, five letters or digits, so that cards are told apart; random when left out.
    #[arg(long, value_name = "ID", default_value = "random", value_parser = super::target::identity)]
    pub identity: target::Identity,
    /// The file to write.
    #[arg(long, value_name = "FILE.pdf")]
    pub out: PathBuf,
    /// Write over a file that is there.
    #[arg(long)]
    pub force: bool,
    /// Print one JSON document: sheets, pages, and where everything lies.
    #[arg(long)]
    pub json: bool,
}

/// Pocket cards.
#[derive(Debug, clap::Args)]
pub struct Pocket {
    /// The kit file.
    #[arg(long, value_name = "KIT")]
    pub kit: PathBuf,
    /// Parts of a set-up from the body outwards to the subject, by id; once for each card. The draw of a bellows is left out:
    /// the card goes through it.
    #[arg(long = "set-up", value_name = "ID,ID,...", required = true)]
    pub set_ups: Vec<String>,
    /// Where the lens is focused while a bellows is drawn out: infinity, closest, travel=MM or distance=MM.
    #[arg(long, default_value = "infinity", allow_hyphen_values = true)]
    pub focus: kit::Focus,
    /// Engraved f-numbers for the depth; the lens's smallest whole stops when left out.
    #[arg(long, value_name = "N,N,...", value_delimiter = ',', allow_hyphen_values = true, value_parser = values::f_number)]
    pub f_numbers: Vec<f64>,
    /// The largest disc on film that counts as sharp; the frame's diagonal / 1500 when left out.
    #[arg(long, value_name = "C", allow_hyphen_values = true, value_parser = values::positive)]
    pub coc_mm: Option<f64>,
    /// A film, whose loss in long exposures goes on the cards: one of the kit, or one of those that "closework films" lists.
    #[arg(long, value_name = "ID")]
    pub film: Option<String>,
    /// a6 (one card a page), a5 (two) or a4 (four).
    #[arg(long, value_name = "PAPER", default_value = "a4", value_parser = super::pocket::paper)]
    pub paper: crate::pocket::Paper,
    /// The file to write: .pdf for paper, .html for a phone.
    #[arg(long, value_name = "FILE.pdf|FILE.html")]
    pub out: PathBuf,
    /// Write over a file that is there.
    #[arg(long)]
    pub force: bool,
    /// Print one JSON document: every row of every card.
    #[arg(long)]
    pub json: bool,
}

/// An edge in a picture.
#[derive(Debug, clap::Args)]
pub struct Edge {
    /// The picture: TIFF, PNG or JPEG.
    pub image: PathBuf,
    /// The region that the edge crosses, in pixels of the picture as shown.
    #[arg(long, value_name = "X,Y,W,H", allow_hyphen_values = true)]
    pub roi: super::picture::Roi,
    /// How numbers in the file become light: icc, srgb, linear or gamma=G. By default the embedded profile, else sRGB.
    #[arg(long, default_value = "icc")]
    pub transfer: super::picture::Transfer,
    /// Size of a pixel on film, in micrometres.
    #[arg(long, value_name = "P", allow_hyphen_values = true, value_parser = values::positive)]
    pub pitch_um: Option<f64>,
    /// Size on film over size of the subject.
    #[arg(long, value_name = "M", allow_hyphen_values = true, value_parser = values::magnification)]
    pub magnification: Option<f64>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// A ruler in a picture.
#[derive(Debug, clap::Args)]
pub struct Scale {
    /// The picture: TIFF, PNG or JPEG.
    pub image: PathBuf,
    /// A point on the ruler, in pixels of the picture as shown.
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true)]
    pub from: super::picture::Spot,
    /// Another point along it.
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true)]
    pub to: super::picture::Spot,
    /// Distance between the ruler's finest ticks, in millimetres, or in inches as 1/16in.
    #[arg(long, value_name = "D", allow_hyphen_values = true, value_parser = values::marks)]
    pub tick_mm: f64,
    /// How numbers in the file become light: icc, srgb, linear or gamma=G. By default the embedded profile, else sRGB.
    #[arg(long, default_value = "icc")]
    pub transfer: super::picture::Transfer,
    /// Size of a pixel on film, in micrometres.
    #[arg(long, value_name = "P", allow_hyphen_values = true, value_parser = values::positive)]
    pub pitch_um: Option<f64>,
    /// Print one JSON document.
    #[arg(long)]
    pub json: bool,
}

/// A whole frame.
#[derive(Debug, clap::Args)]
pub struct Frame {
    /// One picture or several: TIFF, PNG or JPEG.
    #[arg(required = true, value_name = "SCAN")]
    pub scans: Vec<PathBuf>,
    /// The printed target card must be in the picture. Without this, a picture without it is measured by its edges.
    #[arg(long)]
    pub target: bool,
    /// How numbers in the file become light: icc, srgb, linear or gamma=G. By default the embedded profile, else sRGB.
    #[arg(long, default_value = "icc")]
    pub transfer: super::picture::Transfer,
    /// Size of a pixel on film, in micrometres; the file's when left out.
    #[arg(long, value_name = "P", allow_hyphen_values = true, value_parser = values::positive)]
    pub pitch_um: Option<f64>,
    /// Size on film over size of the subject, where there is no card to tell.
    #[arg(long, value_name = "M", allow_hyphen_values = true, value_parser = values::magnification)]
    pub magnification: Option<f64>,
    /// What the card's line of 100 mm measures in print, in millimetres.
    #[arg(long, value_name = "MM", allow_hyphen_values = true, value_parser = values::line)]
    pub line_mm: Option<f64>,
    /// The card's trap was cut out over a dark box.
    #[arg(long)]
    pub trap_cut: bool,
    /// A grey scale stuck on a small card: what each field sends back, the lightest first, 0 to 1 (0.8,0.4,0.2).
    #[arg(long, value_name = "R,...", value_delimiter = ',', allow_hyphen_values = true, value_parser = values::reflectance)]
    pub greys: Vec<f64>,
    /// Detail that the print can show, in line pairs per mm on film: the mean contrast is taken up to there.
    #[arg(long, value_name = "LP", allow_hyphen_values = true, value_parser = values::positive)]
    pub print_limit: Option<f64>,
    /// The scan shows a negative: its slope (as 0.62) or a file with lines of log exposure, density. It is turned back into
    /// exposure; --rebate or --base says where bare film is.
    #[arg(long, value_name = "GAMMA|FILE")]
    pub negative: Option<String>,
    /// A region of bare film (the rebate), in pixels.
    #[arg(long, value_name = "X,Y,W,H", allow_hyphen_values = true, requires = "negative", conflicts_with = "base")]
    pub rebate: Option<super::picture::Roi>,
    /// Density of bare film, one or one for each colour.
    #[arg(long, value_name = "D,...", value_delimiter = ',', allow_hyphen_values = true, requires = "negative", value_parser = values::not_negative)]
    pub base: Vec<f64>,
    /// The scanner's response, divided out: what "measure edge --json" printed of a blade on its holder. Twice for a blade
    /// laid either way.
    #[arg(long, value_name = "FILE")]
    pub scanner: Vec<PathBuf>,
    /// The film's response, divided out: lines of lp/mm, response.
    #[arg(long, value_name = "FILE")]
    pub film: Option<PathBuf>,
    /// Effective f-number at the film, for what misalignment explains.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = values::positive)]
    pub effective_f_number: Option<f64>,
    /// From the lens's entrance pupil to the subject, in millimetres, for the card's lean.
    #[arg(long, value_name = "MM", allow_hyphen_values = true, value_parser = values::positive)]
    pub pupil_mm: Option<f64>,
    /// Print one JSON document; of several files, one with all frames.
    #[arg(long)]
    pub json: bool,
    /// Print the sharpness figures as a table (CSV).
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
}
