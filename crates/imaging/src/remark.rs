//! Reservations about a picture that could be read.

/// Something a photographer should know before trusting a figure from this picture.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Remark {
    /// The transparency channel was left out.
    AlphaDropped,
    /// The transparency channel was left out, and the colours had been multiplied by it.
    PremultipliedAlphaDropped,
    /// Further channels (an infrared channel for dust, for example) were left out.
    ExtraChannelsDropped {
        /// How many.
        count: u32,
    },
    /// The file stores white as zero; it was turned so that more is lighter.
    StoredInverted,
    /// Colours were looked up in the file's palette.
    PaletteResolved,
    /// The file holds more pictures; this is the first, or the first that is not a thumbnail.
    FurtherPictures,
    /// No profile: sRGB was assumed.
    SrgbAssumed,
    /// There is a profile, but it cannot be used: sRGB was assumed.
    ProfileUnusable {
        /// Why.
        reason: String,
    },
    /// The profile is table-based: colours were taken to linear sRGB through it, so the channels are not the scanner's own.
    ProfileTableBased,
    /// No profile, but the file states a tone curve of its own, which was used.
    ToneDeclared {
        /// The curve as [`crate::ToneUsed::label`] gives it.
        label: String,
    },
    /// No profile, and the samples are floating-point numbers: linear light was assumed, as is the custom for them.
    LinearAssumed,
    /// The file states its tone by code points (cICP) that are not understood; they were left aside.
    CodePointsUnknown {
        /// Number of the transfer function, ITU-T H.273.
        transfer: u8,
        /// Number of the primaries, ITU-T H.273.
        primaries: u8,
    },
    /// Demosaiced sensor values: taken as light in the sensor's own colours, unbalanced.
    SensorColours {
        /// The file's own matrix gave the shares of luminance; without one those of sRGB did.
        matrix: bool,
    },
    /// Floating-point samples outside 0 to 1, or that are no numbers, were clipped to 0 or 1.
    OutsideRange {
        /// How many samples of the region.
        samples: u64,
    },
    /// So few bits that the steps between grey levels spoil measuring.
    FewBits {
        /// Bits per sample as stored.
        bits: u8,
    },
    /// The file's own orientation tag and its XMP packet contradict each other; the tag was followed.
    OrientationDiffers {
        /// The tag's value.
        tag: u32,
        /// The packet's value.
        xmp: u32,
    },
    /// The resolution is one that programs write when they know none, or no film scanner has.
    PitchDoubtful {
        /// Dots per inch as the file states them.
        dpi: f64,
    },
    /// The file states different resolutions across and down; the first was taken.
    PitchDiffers {
        /// Pixel pitch across the picture as shown, in µm.
        across_um: f64,
        /// Pixel pitch down the picture as shown, in µm.
        down_um: f64,
    },
    /// The orientation tag holds none of the eight values.
    OrientationUnknown {
        /// What it holds.
        value: u32,
    },
}

impl Remark {
    /// A stable word for machine output.
    pub fn code(&self) -> &'static str {
        match self {
            Self::AlphaDropped => "alpha-dropped",
            Self::PremultipliedAlphaDropped => "premultiplied-alpha-dropped",
            Self::ExtraChannelsDropped { .. } => "extra-channels-dropped",
            Self::StoredInverted => "stored-inverted",
            Self::PaletteResolved => "palette-resolved",
            Self::FurtherPictures => "further-pictures",
            Self::SrgbAssumed => "srgb-assumed",
            Self::ProfileUnusable { .. } => "profile-unusable",
            Self::ProfileTableBased => "profile-table-based",
            Self::ToneDeclared { .. } => "tone-declared",
            Self::LinearAssumed => "linear-assumed",
            Self::CodePointsUnknown { .. } => "code-points-unknown",
            Self::SensorColours { .. } => "sensor-colours",
            Self::OutsideRange { .. } => "outside-range",
            Self::FewBits { .. } => "few-bits",
            Self::OrientationDiffers { .. } => "orientation-differs",
            Self::PitchDoubtful { .. } => "pitch-doubtful",
            Self::PitchDiffers { .. } => "pitch-differs",
            Self::OrientationUnknown { .. } => "orientation-unknown",
        }
    }
}

impl std::fmt::Display for Remark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::AlphaDropped => write!(f, "the transparency channel was left out"),
            Self::PremultipliedAlphaDropped => {
                write!(
                    f,
                    "the transparency channel was left out; where it is not opaque the colours are darkened by it"
                )
            }
            Self::ExtraChannelsDropped { count } => {
                write!(f, "{count} further channel(s), such as infrared for dust, were left out")
            }
            Self::StoredInverted => write!(f, "the file stores white as zero; it was turned so that more is lighter"),
            Self::PaletteResolved => write!(f, "the file holds a palette of colours, which is coarse for measuring"),
            Self::FurtherPictures => write!(f, "the file holds more than one picture; the first full one is shown"),
            Self::SrgbAssumed => write!(f, "no colour profile in the file: sRGB was assumed"),
            Self::ProfileUnusable { reason } => {
                write!(f, "the colour profile in the file cannot be used ({reason}): sRGB was assumed")
            }
            Self::ProfileTableBased => write!(
                f,
                "the colour profile is table-based: colours were taken to linear sRGB through it, so the channels are mixtures of the scanner's own"
            ),
            Self::ToneDeclared { label } => {
                write!(f, "no colour profile, but the file states its tone curve ({label}), which was used")
            }
            Self::LinearAssumed => {
                write!(f, "no colour profile in the file, whose samples are floating-point: linear light was assumed")
            }
            Self::CodePointsUnknown { transfer, primaries } => write!(
                f,
                "the file states its tone by code points that are not understood here (transfer function {transfer}, primaries {primaries}); they were left aside"
            ),
            Self::SensorColours { matrix } => write!(
                f,
                "the file holds a sensor's own colours: its values between black and white level were taken as light, without white balance; {}",
                if *matrix {
                    "its colour matrix gives luminance"
                } else {
                    "it has no usable colour matrix, so luminance is weighed as in sRGB"
                }
            ),
            Self::OutsideRange { samples } => {
                write!(f, "{samples} sample(s) outside 0 to 1, or that are no numbers, were clipped")
            }
            Self::FewBits { bits } => {
                write!(f, "the file holds {bits} bit(s) per sample, which is too coarse for measuring tones")
            }
            Self::OrientationDiffers { tag, xmp } => write!(
                f,
                "the orientation tag holds {tag} and the XMP packet {xmp}; the picture is shown as the tag says"
            ),
            Self::PitchDoubtful { dpi } => write!(
                f,
                "the file states {dpi:.0} dpi, which programs often write without knowing: state the scan's pitch yourself"
            ),
            Self::PitchDiffers { across_um, down_um } => write!(
                f,
                "the file states different pitches across ({across_um:.3} µm) and down ({down_um:.3} µm); the first was taken"
            ),
            Self::OrientationUnknown { value } => {
                write!(f, "the orientation tag holds {value}, which means nothing; the picture is shown as stored")
            }
        }
    }
}
