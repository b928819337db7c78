//! Slanted edges and rulers on linear-light pictures.
//!
//! [`edge`] tells how sharp a slanted edge is (the spatial frequency response of ISO 12233, along the edge's normal) and how sure that
//! is; [`scale`] tells how many pixels a ruler's millimetre takes. Both take a [`planes::Picture`] of
//! [`planes::Linear`] light and know nothing of files. A region that does not hold what is to be measured is refused
//! by name: there is never a number that only looks fine.

mod algebra;
mod align;
mod alignment;
mod contrast;
mod curvature;
mod evenness;
mod exposed;
mod field;
mod figures;
mod found;
mod frequency;
mod fringing;
mod geometry;
mod grain;
mod numeric;
mod pooled;
mod ramp;
mod response;
mod ruler;
mod slanted;
mod spline;

pub use algebra::{Figure, student_975};
pub use align::{
    AlignError, AlignRemark, Aligned, ByPicture, PictureOptions, Resampled, SharpestZone, Similarity, Tone, ToneError,
    TonePoints, align_by_cards, align_by_picture, align_by_points, match_tone, resample, scale_by_magnification,
    sharpest_zone,
};
pub use alignment::{
    AlignmentError, AlignmentOptions, AlignmentRemark, AlignmentReport, SharpPlace, Softness, SoftnessError,
    SoftnessReport, alignment, defocus_mtf, defocus_waves, depth_to_half_mm, film_defocus_mm, geometric_defocus_mtf,
    hopkins, softness_explained,
};
pub use contrast::{
    Bounded, ChannelContrast, ContrastError, ContrastOptions, ContrastRemark, ContrastReport, contrast,
};
pub use curvature::{CurvatureError, CurvedReport, FlatPlace, ThroughFocus, curved_surface};
pub use evenness::{
    EvennessError, EvennessOptions, EvennessRemark, EvennessReport, GroundSample, Shading, evenness, ground_samples,
    shading,
};
pub use exposed::{
    Clipped, ExposedError, ExposedOptions, ExposedRemark, ExposedReport, GreyStep, StepResidual, clipped, exposed,
};
pub use field::{EdgeDirection, FieldLine, edge_direction};
pub use figures::{Area, EdgeFigures, FigureError, ResponseAt, area_under, figures};
pub use found::{FindOptions, FoundEdge, QualityNote, QualityReason, find_edges};
pub use frequency::{FrequencyError, FrequencyUnit, Sampling};
pub use fringing::{
    Arrow, ChannelFringing, EdgeFringe, EdgeFringeError, EdgeFringeOptions, EdgeFringeRemark, FieldValue, FringeSample,
    FringingError, FringingOptions, FringingRemark, FringingReport, bright_normal_deg, edge_fringe, fringing,
};
pub use geometry::{
    GeometryError, GeometryOptions, GeometryRemark, GeometryReport, LocalScale, Mapping, PointPair, TiltError,
    TiltOptions, TiltRemark, TiltReport, depth_of_tilt_mm, geometry, image_tilt_deg, tilt, tilt_allowed_deg,
};
pub use grain::{
    GrainError, GrainOptions, GrainRemark, GrainReport, Granularity, PowerPoint, circular_aperture_response, grain,
    selwyn_scaled,
};
pub use pooled::{PoolError, PoolRemark, Pooled, PooledFigure, PooledPoint, pool, pool_channel};
pub use ramp::{
    BarCourse, Bars, Beyond, RampError, RampOptions, RampRemark, RampReport, RampSample, RampScale, RampShape,
    StripError, StripOptions, StripPoint, bar_course, focus_ramp, strip_modulation,
};
pub use response::{
    Corrected, CurveEnd, KnownResponse, LEAST_DIVISOR, LEAST_SURENESS, ResponseError, TablePoint, corrected,
};
pub use ruler::{ScaleError, ScaleOptions, ScaleRemark, ScaleReport, scale};
pub use slanted::{
    Channel, ChannelReport, Direction, Displacement, EdgeError, EdgeOptions, EdgeRemark, EdgeReport,
    FREQUENCY_STEP_CY_PX, ProfilePoint, SfrPoint, edge, response_at,
};
