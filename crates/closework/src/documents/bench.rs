//! `bench forms --json`, `bench set-up --json` and `bench kit --json`

mod measured;
mod rays_told;

pub use measured::{BenchFitDocument, BenchMeasuredDocument};

use crate::bench::{Found, NOT_YOURS, OwnTable, Wanted, kind};
use rays::{AimError, BackFocus, Form, Row, Seidel, Sums, Transfer, Wavelength, Zone};
use rays_told::{FieldDocument, MapDocument, RaysOnFilm};
use serde::Serialize;

/// `bench forms --json`
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BenchFormsDocument {
    /// The nearest to what was asked for first.
    forms: Vec<FormDocument>,
    note: &'static str,
}

/// A form with what was printed of it and what the trace says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FormDocument {
    key: &'static str,
    name: &'static str,
    kind: &'static str,
    source: &'static str,
    remark: &'static str,
    elements: usize,
    symmetric: bool,
    /// "short", "usual" or "long".
    back_focus: &'static str,
    dispersion_known: bool,
    /// In the table's own unit, as are the traced ones.
    printed_focal_length: Option<f64>,
    traced_focal_length: f64,
    printed_back_focus: Option<f64>,
    traced_back_focus: f64,
    printed_f_number: Option<f64>,
}

impl From<&Form> for FormDocument {
    fn from(form: &Form) -> Self {
        let traced = form.mismatch();
        Self {
            key: form.key,
            name: form.name,
            kind: kind(form.kind),
            source: form.source,
            remark: form.remark,
            elements: form.elements,
            symmetric: form.symmetric(),
            back_focus: match form.back_focus() {
                BackFocus::Short => "short",
                BackFocus::Usual => "usual",
                BackFocus::Long => "long",
            },
            dispersion_known: form.dispersion_known(),
            printed_focal_length: form.published_focal_length,
            traced_focal_length: traced.focal_length,
            printed_back_focus: form.published_back_focus,
            traced_back_focus: traced.back_focus,
            printed_f_number: form.published_f_number,
        }
    }
}

/// A person's own table beside what became of it. Lengths in mm.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct TableDocument {
    /// Its id in the kit; none for one that is not kept.
    id: Option<String>,
    name: String,
    typed_focal_length: f64,
    /// How many times larger it was made.
    scaled_by: f64,
    /// Before it was made larger, behind the last surface: as typed, and as traced.
    typed_back_focus: Option<f64>,
    traced_back_focus: f64,
}

impl TableDocument {
    fn of(table: &OwnTable, focal_length_mm: f64) -> Self {
        Self {
            id: Some(table.id.clone()).filter(|id| !id.is_empty()),
            name: table.name.clone(),
            typed_focal_length: table.focal_length_mm,
            scaled_by: focal_length_mm / table.focal_length_mm,
            typed_back_focus: table.printed_back_focus_mm,
            traced_back_focus: table.back_focus_mm,
        }
    }
}

impl BenchFormsDocument {
    /// Forms in that order.
    pub fn of(forms: &[&Form]) -> Self {
        Self { forms: forms.iter().map(|form| (*form).into()).collect(), note: NOT_YOURS }
    }
}

/// `bench set-up --json` and `bench kit --json`. Lengths in mm; third-order sums as wave aberration coefficients in mm.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BenchDocument {
    /// The parts of the kit, from the body outwards; none for a form with attachments.
    parts: Option<Vec<String>>,
    form: Option<FormDocument>,
    /// A lens table of the person's own; none where a form of the library stands for the lens.
    table: Option<TableDocument>,
    /// Size on film over size of the subject; none at infinity.
    magnification: Option<f64>,
    /// Subject to the foremost glass.
    subject_mm: Option<f64>,
    effective_f_number: f64,
    /// The last glass to the film, to first order.
    film_mm: f64,
    /// How far from there the film was moved to focus.
    focus_mm: f64,
    /// How much farther from the lens every colour is sharp than d.
    axial_colour: Vec<AxialDocument>,
    surfaces: Vec<SurfaceDocument>,
    sums: SumsDocument,
    /// Of the field surface without astigmatism; none where it is flat.
    petzval_radius_mm: Option<f64>,
    /// What the curves through focus and over the field and the map are for, and what it was focused by.
    main_cycles_per_mm: f64,
    /// Where the film leaves half of the contrast; none where contrast is the lens's alone.
    film_half_cycles_per_mm: Option<f64>,
    zones: Vec<ZoneOnFilm>,
    through_focus: Vec<PlaneDocument>,
    /// From the middle to the farthest corner.
    over_field: Vec<FieldDocument>,
    map: MapDocument,
    remarks: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct AxialDocument {
    nm: f64,
    mm: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct SurfaceDocument {
    /// None for a plane.
    radius_mm: Option<f64>,
    gap_mm: Option<f64>,
    /// Behind it, at the d line.
    index: f64,
    clear_half_diameter_mm: Option<f64>,
    stop: bool,
    sums: SumsDocument,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct SumsDocument {
    spherical: f64,
    coma: f64,
    astigmatism: f64,
    petzval: f64,
    distortion: f64,
    axial_colour: f64,
    lateral_colour: f64,
}

impl From<&Sums> for SumsDocument {
    fn from(sums: &Sums) -> Self {
        let Sums { spherical, coma, astigmatism, petzval, distortion, axial_colour, lateral_colour } = *sums;
        Self { spherical, coma, astigmatism, petzval, distortion, axial_colour, lateral_colour }
    }
}

/// One place on film; with `dark` in place of figures where no light arrives.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct ZoneOnFilm {
    film_mm: f64,
    dark: Option<String>,
    #[serde(flatten)]
    figures: Option<ZoneFigures>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct ZoneFigures {
    transfer: Vec<ContrastDocument>,
    colours: Vec<ColourDocument>,
    /// Light as a share of the middle's.
    illumination: f64,
    distortion: f64,
    spot_rms_um: f64,
    wave_rms: f64,
    sagittal_focus_mm: f64,
    tangential_focus_mm: f64,
    own_focus_mm: f64,
    by_rays: bool,
    rays: RaysDocument,
    /// Spots and fans; none where the rays cannot be aimed.
    single_rays: Option<RaysOnFilm>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct ContrastDocument {
    cycles_per_mm: f64,
    sagittal: f64,
    tangential: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct ColourDocument {
    nm: f64,
    /// Farther from the middle than d.
    outward_um: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct RaysDocument {
    sent: usize,
    arrived: usize,
    cut: usize,
    missed: usize,
    reflected: usize,
    unsettled: usize,
    unaimed: usize,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct PlaneDocument {
    shift_mm: f64,
    /// At the first frequency, one for every place; null where it is dark.
    contrast: Vec<Option<PlaneContrast>>,
    /// For every place one for every frequency; null where it is dark.
    by_frequency: Vec<Option<Vec<ContrastDocument>>>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct PlaneContrast {
    sagittal: f64,
    tangential: f64,
}

fn nm(wavelength: Wavelength) -> f64 {
    wavelength.um() * 1e3
}

impl BenchDocument {
    /// What was found of what was wanted.
    pub fn of(found: &Found, wanted: &Wanted) -> Self {
        let told = &found.prediction;
        let axial = told.axial_mm.iter().map(|(colour, mm)| AxialDocument { nm: nm(*colour), mm: *mm });
        let planes = found.through_focus.iter().map(|plane| PlaneDocument {
            shift_mm: plane.shift_mm,
            contrast: plane.transfers.iter().map(|all| Some(all.as_ref()?.first()?.into())).collect(),
            by_frequency: plane
                .transfers
                .iter()
                .map(|all| Some(contrasts(&wanted.through_focus, all.as_ref()?)))
                .collect(),
        });
        let petzval = found.sums.petzval_per_mm;
        let places = wanted.film_mm.iter().zip(&told.zones).zip(&found.rays);
        let zones = places.map(|((film, zone), rays)| {
            let rays = rays.as_ref().map(RaysOnFilm::from);
            on_film(*film, zone, &wanted.cycles_per_mm, rays)
        });
        Self {
            parts: None,
            form: found.design.form().map(Into::into),
            table: found.design.own().map(|table| TableDocument::of(table, found.focal_length_mm())),
            magnification: told.magnification,
            subject_mm: told.subject_mm,
            effective_f_number: told.f_number,
            film_mm: told.film_mm,
            focus_mm: told.focus_mm,
            axial_colour: axial.collect(),
            surfaces: surfaces(found.system.rows(), &found.sums),
            sums: (&found.sums.total).into(),
            petzval_radius_mm: (petzval != 0.0).then(|| -1.0 / petzval),
            main_cycles_per_mm: wanted.main_cycles_per_mm,
            film_half_cycles_per_mm: wanted.film_half,
            zones: zones.collect(),
            through_focus: planes.collect(),
            over_field: found.over_field.iter().map(|(film, zone)| FieldDocument::of(*film, zone)).collect(),
            map: (&found.map).into(),
            remarks: found.remarks.clone(),
        }
    }

    /// The same, of these parts.
    pub fn of_parts(self, parts: &[String]) -> Self {
        Self { parts: Some(parts.to_vec()), ..self }
    }
}

fn surfaces(rows: &[Row], sums: &Seidel) -> Vec<SurfaceDocument> {
    let one = |(row, sums): (&Row, &Sums)| SurfaceDocument {
        radius_mm: (row.surface.curvature != 0.0).then(|| 1.0 / row.surface.curvature),
        gap_mm: row.gap_mm,
        index: row.after.index(Wavelength::D),
        clear_half_diameter_mm: row.semi_aperture_mm,
        stop: row.stop,
        sums: sums.into(),
    };
    rows.iter().zip(&sums.surfaces).map(one).collect()
}

impl From<&Transfer> for PlaneContrast {
    fn from(transfer: &Transfer) -> Self {
        Self { sagittal: transfer.sagittal, tangential: transfer.tangential.contrast() }
    }
}

fn on_film(film_mm: f64, zone: &Result<Zone, AimError>, cycles_per_mm: &[f64], rays: Option<RaysOnFilm>) -> ZoneOnFilm {
    match zone {
        Err(why) => ZoneOnFilm { film_mm, dark: Some(why.to_string()), figures: None },
        Ok(zone) => ZoneOnFilm { film_mm, dark: None, figures: Some(figures(zone, cycles_per_mm, rays)) },
    }
}

fn contrasts(cycles_per_mm: &[f64], transfers: &[Transfer]) -> Vec<ContrastDocument> {
    let contrast = |(cycles_per_mm, transfer): (&f64, &Transfer)| ContrastDocument {
        cycles_per_mm: *cycles_per_mm,
        sagittal: transfer.sagittal,
        tangential: transfer.tangential.contrast(),
    };
    cycles_per_mm.iter().zip(transfers).map(contrast).collect()
}

fn figures(zone: &Zone, cycles_per_mm: &[f64], single_rays: Option<RaysOnFilm>) -> ZoneFigures {
    let colour = |(colour, mm): &(Wavelength, f64)| ColourDocument { nm: nm(*colour), outward_um: 1e3 * mm };
    let (census, losses) = (&zone.census, &zone.census.losses);
    ZoneFigures {
        transfer: contrasts(cycles_per_mm, &zone.transfer),
        colours: zone.colours_mm.iter().map(colour).collect(),
        illumination: zone.illumination,
        distortion: zone.distortion,
        spot_rms_um: 1e3 * zone.spot.rms_mm(),
        wave_rms: zone.waves,
        sagittal_focus_mm: zone.field_focus.sagittal_mm,
        tangential_focus_mm: zone.field_focus.tangential_mm,
        own_focus_mm: zone.own_focus_mm,
        by_rays: zone.by_rays,
        rays: RaysDocument {
            sent: census.sent,
            arrived: census.arrived(),
            cut: losses.cut,
            missed: losses.missed,
            reflected: losses.reflected,
            unsettled: losses.unsettled,
            unaimed: census.unaimed,
        },
        single_rays,
    }
}
