//! What can be wrong with a set-up, in a photographer's terms.

use crate::{Kind, Misfit, Order};
use optics::{CloseRangeError, ConverterError, FocusError};

/// Why a choice of parts makes no set-up that can be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SetupError {
    /// The parts are not listed from the body to the subject.
    #[error("{0}")]
    Order(#[from] Order),
    /// Two neighbours do not join.
    #[error("{0}")]
    Misfit(#[from] Misfit),
    /// No part of that id.
    #[error("the kit has no part \"{id}\"; {}", .closest.as_ref().map_or("check the id".into(), |c| format!("did you mean \"{c}\"?")))]
    NoSuchPart {
        /// The id asked for.
        id: String,
        /// The nearest one there is.
        closest: Option<String>,
    },
    /// A part that is no body where a body is asked for.
    #[error("\"{id}\" is a {}, not a body; {}", .kind.spec().label, named(.bodies))]
    NotABody {
        /// The id asked for.
        id: String,
        /// What it is.
        kind: Kind,
        /// The bodies there are.
        bodies: Vec<String>,
    },
    /// More combinations than can be gone through.
    #[error(
        "these limits allow more than {most} ways to arrange one side of the stack; ask for fewer tubes, bellows or close-up lenses in one set-up"
    )]
    TooMany {
        /// How many can be gone through.
        most: u64,
    },
    /// A place in the list with nothing in it.
    #[error(
        "the list of parts has a place with nothing in it; write ids with one comma between two, for example body,tube,lens"
    )]
    Nameless,
    /// A circle of confusion that is most likely meant in micrometres.
    #[error("a circle of confusion of {found} mm cannot be meant on a frame {} mm across; it is given in millimetres, so that the usual one here is {usual:.3}{}", round_mm(*.diagonal_mm), .meant.map_or(String::new(), |meant| format!(" (was {meant} meant?)")))]
    Confusion {
        /// What was asked for, mm.
        found: f64,
        /// The frame's diagonal, mm.
        diagonal_mm: f64,
        /// The diagonal over 1500, mm.
        usual: f64,
        /// What was probably meant, mm.
        meant: Option<f64>,
    },
    /// One thing in two places.
    #[error("part \"{0}\" is listed twice; each thing is there once, so leave one out")]
    Twice(String),
    /// A free distance that is none.
    #[error("\"free={found}\" is no free distance; write free=MM with MM a plain number from 0 to {most}")]
    FreeUnread {
        /// What was given.
        found: String,
        /// The longest that is taken, mm.
        most: f64,
    },
    /// A converter that cannot be.
    #[error("teleconverter \"{id}\": {source}; check its factor, length_mm and register_mm")]
    Converter {
        /// The converter.
        id: String,
        /// Why.
        source: ConverterError,
    },
    /// A travel asked of a lens that does not move.
    #[error(
        "lens \"{0}\" focuses internally and has no travel to set; give infinity, closest, or distance=MM as on its scale"
    )]
    NoTravel(String),
    /// An internally focusing lens of which too little is known.
    #[error(
        "lens \"{0}\" focuses internally: how its focal length changes follows from close_focus_mm and max_magnification together; add both, or focus it at infinity"
    )]
    InsideUnknown(String),
    /// An internally focusing lens whose marks make no lens.
    #[error(
        "lens \"{0}\": close_focus_mm and max_magnification imply a focal length at the closest mark that no lens has; check both and focal_length_mm"
    )]
    InsideContradicts(String),
    /// A distance on the scale nearer than the scale goes.
    #[error(
        "lens \"{id}\" cannot be set to {found} mm on its scale; its closest mark lies at {least:.0} mm from the film, so give no less"
    )]
    ScaleTooNear {
        /// The lens.
        id: String,
        /// The distance asked for, mm.
        found: f64,
        /// The nearest there is, mm.
        least: f64,
    },
    /// A bellows without a draw, or with one outside its range.
    #[error("bellows \"{id}\" {}; give {id}=MM with MM from {shortest} to {longest}", .found.map_or("needs its draw".into(), |f| format!("cannot be drawn to {f} mm")))]
    Draw {
        /// The bellows.
        id: String,
        /// The draw asked for.
        found: Option<f64>,
        /// Its shortest draw, mm.
        shortest: f64,
        /// Its longest, mm.
        longest: f64,
    },
    /// A draw that is no plain number.
    #[error(
        "bellows \"{id}\": \"{found}\" is no draw; write the draw as a plain number of millimetres: {id}={example}"
    )]
    DrawUnread {
        /// The bellows.
        id: String,
        /// What was given.
        found: String,
        /// What was probably meant, mm.
        example: f64,
    },
    /// A length given for a part that has none to set.
    #[error("part \"{0}\" has no draw to set; name it without \"=\"")]
    NoDraw(String),
    /// An f-number that the lens does not have.
    #[error("lens \"{id}\" has no f/{found}; give one from f/{widest} {}", .smallest.map_or("on".into(), |s| format!("to f/{s}")))]
    FNumber {
        /// The lens.
        id: String,
        /// The f-number asked for.
        found: f64,
        /// Its widest.
        widest: f64,
        /// Its smallest stop, when known.
        smallest: Option<f64>,
    },
    /// The closest mark is asked for and nothing in the kit tells where it is.
    #[error(
        "the kit does not say how close lens \"{0}\" focuses; add close_focus_mm or max_magnification, or give --focus travel=MM"
    )]
    NoCloseRange(String),
    /// More travel than the lens has.
    #[error("lens \"{id}\" cannot travel {found} mm; its closest mark is reached at {most:.1} mm, so give no more")]
    Travel {
        /// The lens.
        id: String,
        /// The travel asked for, mm.
        found: f64,
        /// The largest, mm.
        most: f64,
    },
    /// A setting that is no positive number.
    #[error("{what} must be {rule}, not {found}")]
    Setting {
        /// Which.
        what: &'static str,
        /// What it must be.
        rule: &'static str,
        /// What it was.
        found: f64,
    },
    /// The close-focus mark contradicts the focal length.
    #[error("lens \"{id}\": close_focus_mm cannot be right: {source}; check close_focus_mm and focal_length_mm")]
    CloseRange {
        /// The lens.
        id: String,
        /// Why.
        source: CloseRangeError,
    },
    /// Figures beyond what numbers can hold.
    #[error(
        "no {0} can be given: a figure in the kit is too small or too large to be real; check the lengths and powers"
    )]
    Beyond(&'static str),
    /// The closest mark lies where the distance does not tell the magnification.
    #[error(
        "lens \"{id}\": close_focus_mm {close_focus_mm} is so near to the nearest that this focal length allows ({least_mm:.1} mm, at life size) that it does not tell the magnification there; add max_magnification"
    )]
    ClosestMarkUnclear {
        /// The lens.
        id: String,
        /// The stated distance, mm.
        close_focus_mm: f64,
        /// Four focal lengths and the principal separation, mm.
        least_mm: f64,
    },
    /// The lens sits too near the film for anything real to be sharp.
    #[error("this set-up focuses on nothing in front of it: the lens sits {missing_mm:.1} mm too near the film; {}", .register.map_or("add at least that much with a tube or a bellows".into(), |[lens, body]| format!("it was built for a register of {lens} mm and the body has {body} mm, so add at least that much with a tube or a bellows")))]
    TooNearFilm {
        /// How much extension is missing, mm.
        missing_mm: f64,
        /// The lens's register and the body's, mm, where the lens was built for a longer one.
        register: Option<[f64; 2]>,
    },
    /// Nothing real can be sharp, because the lenses bend too much light or stand too far from the film.
    #[error("this set-up focuses on nothing in front of it; take extension or a close-up lens away")]
    Focus(#[from] FocusError),
    /// The sharp plane lies inside the set-up.
    #[error(
        "the subject would have to lie {inside_mm:.1} mm behind the front of the set-up; take extension or a close-up lens away"
    )]
    SubjectInside {
        /// How deep, mm.
        inside_mm: f64,
    },
}

fn round_mm(mm: f64) -> f64 {
    mm.round()
}

/// "give six-by-six or spare-body".
fn named(bodies: &[String]) -> String {
    match bodies {
        [] => "add a body to the kit".into(),
        bodies => format!("give {}", bodies.join(" or ")),
    }
}
