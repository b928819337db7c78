//! What lies between surfaces: refractive index by wavelength, relative to air.

/// A wavelength in air, checked to lie where glass is clear and the data below mean something.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Wavelength(f64);

/// A wavelength that glass data say nothing about.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("a wavelength of {um} µm lies outside {} to {} µm", Wavelength::SHORTEST_UM, Wavelength::LONGEST_UM)]
pub struct WavelengthError {
    /// The wavelength asked for, µm.
    pub um: f64,
}

impl Wavelength {
    /// Below this most lens glass is opaque, µm.
    pub const SHORTEST_UM: f64 = 0.35;
    /// Beyond this neither film nor patent data reach, µm.
    pub const LONGEST_UM: f64 = 1.1;
    /// Blue mercury line g, 435.8343 nm (this and the next: lines of the glass catalogue).
    pub const G: Self = Self(0.435_834_3);
    /// Blue hydrogen line F, 486.1327 nm.
    pub const F: Self = Self(0.486_132_7);
    /// Green mercury line e, 546.0740 nm.
    pub const E: Self = Self(0.546_074);
    /// Yellow helium line d, 587.5618 nm.
    pub const D: Self = Self(0.587_561_8);
    /// Red hydrogen line C, 656.2725 nm.
    pub const C: Self = Self(0.656_272_5);

    /// From micrometres.
    pub fn from_um(um: f64) -> Result<Self, WavelengthError> {
        if (Self::SHORTEST_UM..=Self::LONGEST_UM).contains(&um) { Ok(Self(um)) } else { Err(WavelengthError { um }) }
    }

    /// In micrometres.
    pub fn um(self) -> f64 {
        self.0
    }

    /// In millimetres, as everything else here.
    pub fn mm(self) -> f64 {
        self.0 * 1e-3
    }
}

/// The six constants of n² − 1 = Σ B·λ²/(λ² − C), λ in µm (Sellmeier, 1871).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sellmeier {
    /// Strengths B₁ to B₃.
    pub b: [f64; 3],
    /// Squared resonance wavelengths C₁ to C₃, µm².
    pub c: [f64; 3],
}

impl Sellmeier {
    /// Index relative to air.
    pub fn index(&self, wavelength: Wavelength) -> f64 {
        let squared = wavelength.um().powi(2);
        let term = |i: usize| self.b[i] * squared / (squared - self.c[i]);
        (1.0 + term(0) + term(1) + term(2)).sqrt()
    }
}

/// How the index at other wavelengths follows from one index and one Abbe number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule {
    /// n at d, V = (n_d − 1)/(n_F − n_C). The curve is n = n_d + aω + bω² in the chromatic coordinate
    /// ω = Δ/(1 + 2.5Δ), Δ = λ − λ_d in µm (Buchdahl; Robb and Mercado, *Applied Optics* 22, 1983, 1198), through the
    /// given n_F − n_C and through the g line of the *normal line* P_gF = 0.6438 − 0.001682 V (Schott TIE-29, the line
    /// through K7 and F2, from memory; the tests hold it to the catalogue glasses). Glass off that line, which is what
    /// apochromats are made of, is not told by V at all.
    NormalLine,
    /// n at D, V = (n_D − 1)/(n_F − n_C), straight in wavelength: n = n_D + (λ_D − λ)/(λ_C − λ_F)·(n_D − 1)/V, with D
    /// 589.5944, C 656.2816, F 486.1344 nm. Wrong for real glass between the lines, but the rule of a published set of
    /// reference results (the air-spaced achromat among [`crate::FORMS`]).
    Straight,
}

/// What fills the space between two surfaces. Indices are relative to air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Medium {
    /// Index 1 at every wavelength.
    Air,
    /// One index for all colours, where a source prints no dispersion.
    Constant(f64),
    /// A catalogue glass by its constants.
    Sellmeier(Sellmeier),
    /// Patent data: one index and an Abbe number.
    Abbe {
        /// Index at the rule's own line.
        index: f64,
        /// Abbe number V.
        abbe: f64,
        /// How to go on from there.
        rule: Rule,
    },
    /// Air behind a mirror: what lies behind a surface that reflects. Its index is −1, so that Snell's law turns light round and
    /// the same formulas go on (Welford, *Aberrations of Optical Systems*, 1986, 4.3, from memory): directions then point against
    /// the light, distances in front of the mirror are negative, and paths still add up.
    Mirrored,
}

/// The D, C and F lines of [`Rule::Straight`], µm.
const STRAIGHT_DCF: [f64; 3] = [0.589_594_4, 0.656_281_6, 0.486_134_4];

impl Medium {
    /// Patent data at the d line, continued along the normal line.
    pub const fn patent(index: f64, abbe: f64) -> Self {
        Self::Abbe { index, abbe, rule: Rule::NormalLine }
    }

    /// Index at a wavelength.
    pub fn index(&self, wavelength: Wavelength) -> f64 {
        match *self {
            Self::Air => 1.0,
            Self::Mirrored => -1.0,
            Self::Constant(index) => index,
            Self::Sellmeier(constants) => constants.index(wavelength),
            Self::Abbe { index, abbe, rule: Rule::NormalLine } => normal_line(index, abbe, wavelength),
            Self::Abbe { index, abbe, rule: Rule::Straight } => {
                let [d, c, f] = STRAIGHT_DCF;
                index + (d - wavelength.um()) / (c - f) * (index - 1.0) / abbe
            }
        }
    }

    /// Whether its index changes with colour as far as is known: air and glass with published dispersion.
    pub fn dispersion_known(&self) -> bool {
        !matches!(self, Self::Constant(_))
    }
}

/// Buchdahl's chromatic coordinate from the d line.
fn chromatic(wavelength: Wavelength) -> f64 {
    let delta = wavelength.um() - Wavelength::D.um();
    delta / (1.0 + 2.5 * delta)
}

/// See [`Rule::NormalLine`]: a and b from two linear equations.
fn normal_line(index: f64, abbe: f64, wavelength: Wavelength) -> f64 {
    let spread = (index - 1.0) / abbe;
    let partial = 0.6438 - 0.001682 * abbe;
    let [g, f, c] = [Wavelength::G, Wavelength::F, Wavelength::C].map(chromatic);
    // a(f − c) + b(f² − c²) = spread and a(g − f) + b(g² − f²) = partial·spread.
    let (first, second) = (spread / (f - c), partial * spread / (g - f));
    let b = (second - first) / (g - c);
    let a = first - b * (f + c);
    let at = chromatic(wavelength);
    index + at * (a + b * at)
}

/// A glass of the catalogue.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Glass {
    /// Its catalogue name.
    pub name: &'static str,
    /// Its constants.
    pub constants: Sellmeier,
}

impl Glass {
    /// As a medium.
    pub const fn medium(&self) -> Medium {
        Medium::Sellmeier(self.constants)
    }

    /// V_d = (n_d − 1)/(n_F − n_C).
    pub fn abbe(&self) -> f64 {
        let [d, f, c] = [Wavelength::D, Wavelength::F, Wavelength::C].map(|line| self.constants.index(line));
        (d - 1.0) / (f - c)
    }
}

const fn glass(name: &'static str, b: [f64; 3], c: [f64; 3]) -> Glass {
    Glass { name, constants: Sellmeier { b, c } }
}

/// Glasses by name, at 20 °C. Constants: Schott catalogue of 2017-01-20 as carried by the refractiveindex.info database
/// (CC0).
#[rustfmt::skip]
pub const CATALOGUE: [Glass; 12] = [
    glass("N-BK7", [1.03961212, 0.231792344, 1.01046945], [0.00600069867, 0.0200179144, 103.560653]),
    glass("F2", [1.34533359, 0.209073176, 0.937357162], [0.00997743871, 0.0470450767, 111.886764]),
    glass("F5", [1.3104463, 0.19603426, 0.96612977], [0.00958633048, 0.0457627627, 115.011883]),
    glass("SF5", [1.46141885, 0.247713019, 0.949995832], [0.0111826126, 0.0508594669, 112.041888]),
    glass("N-SF5", [1.52481889, 0.187085527, 1.42729015], [0.011254756, 0.0588995392, 129.141675]),
    glass("SF10", [1.61625977, 0.259229334, 1.07762317], [0.0127534559, 0.0581983954, 116.60768]),
    glass("SF1", [1.55912923, 0.284246288, 0.968842926], [0.0121481001, 0.0534549042, 112.174809]),
    glass("LF5", [1.28035628, 0.163505973, 0.893930112], [0.00929854416, 0.0449135769, 110.493685]),
    glass("N-BAF10", [1.5851495, 0.143559385, 1.08521269], [0.00926681282, 0.0424489805, 105.613573]),
    glass("N-SK16", [1.34317774, 0.241144399, 0.994317969], [0.00704687339, 0.0229005, 92.7508526]),
    glass("N-PK51", [1.15610775, 0.153229344, 0.785618966], [0.00585597402, 0.0194072416, 140.537046]),
    glass("N-LAK21", [1.22718116, 0.420783743, 1.01284843], [0.00602075682, 0.0196862889, 88.4370099]),
];

/// A catalogue glass by name.
pub fn catalogue_glass(name: &str) -> Option<&'static Glass> {
    CATALOGUE.iter().find(|glass| glass.name == name)
}
