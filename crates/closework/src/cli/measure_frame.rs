//! `closework measure frame`

use std::io::IsTerminal;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::args;
use super::error::CliError;
use super::text::{Lines, with_unit};
use crate::documents::{CSV_HEAD, FrameDocument, FramesDocument, Measured, to_json};
use crate::whole_frame::{Known, Negative, NegativeBase, NegativeCurve, Settings, take, tone_text};

/// Measures one file or several, as many at a time as there are cores: each holds no more than a small picture of the whole and
/// the region that is being measured.
pub fn run(args: &args::Frame) -> Result<String, CliError> {
    let settings = settings(args)?;
    let mut frames = all(&args.scans, &settings)?;
    if args.json {
        return match frames.len() {
            1 => Ok(to_json(&frames.remove(0))?),
            _ => Ok(to_json(&FramesDocument { frames })?),
        };
    }
    if args.csv {
        let lines = frames.iter().map(FrameDocument::csv_lines);
        return Ok(std::iter::once(CSV_HEAD.to_owned()).chain(lines).collect());
    }
    Ok(frames.iter().map(words).collect::<Vec<_>>().join("\n"))
}

fn settings(args: &args::Frame) -> Result<Settings, CliError> {
    let read = |path: &PathBuf| {
        let text = std::fs::read_to_string(path)
            .map_err(|source| CliError::ResponseUnreadable { path: path.clone(), source })?;
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        Known::read(&name, &text).map_err(|source| CliError::Response { path: path.clone(), source })
    };
    Ok(Settings {
        transfer: tone_text(args.transfer.0),
        card_needed: args.target,
        pitch_um: args.pitch_um,
        magnification: args.magnification,
        line_mm: args.line_mm,
        trap_cut: args.trap_cut,
        grey_scale: args.greys.clone(),
        print_limit_lp_mm: args.print_limit,
        negative: args.negative.as_deref().map(|curve| negative(curve, args)).transpose()?,
        scanner: args.scanner.iter().map(read).collect::<Result<_, _>>()?,
        film: args.film.as_ref().map(read).transpose()?,
        effective_f_number: args.effective_f_number,
        pupil_to_subject_mm: args.pupil_mm,
        set_up: None,
    })
}

fn negative(curve: &str, args: &args::Frame) -> Result<Negative, CliError> {
    let base = match (&args.rebate, &args.base[..]) {
        (Some(super::picture::Roi(r)), _) => NegativeBase::Rebate([r.x, r.y, r.width, r.height]),
        (None, []) => return Err(CliError::NegativeWithoutBase),
        (None, densities) => NegativeBase::Densities(densities.to_vec()),
    };
    let curve = match curve.parse() {
        Ok(gamma) => NegativeCurve::Gamma(gamma),
        Err(_) => {
            let path = PathBuf::from(curve);
            let text =
                std::fs::read_to_string(&path).map_err(|source| CliError::ResponseUnreadable { path, source })?;
            NegativeCurve::Table(text)
        }
    };
    Ok(Negative { curve, base })
}

fn all(paths: &[PathBuf], settings: &Settings) -> Result<Vec<FrameDocument>, CliError> {
    let next = AtomicUsize::new(0);
    let results: Vec<Mutex<Option<Result<FrameDocument, CliError>>>> = paths.iter().map(|_| Mutex::new(None)).collect();
    let failed = AtomicUsize::new(0);
    let workers = std::thread::available_parallelism().map_or(1, usize::from).min(paths.len());
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                // After the first refusal nothing new is begun: a result is never printed for input that was not
                // understood whole.
                while failed.load(Ordering::Relaxed) == 0 {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    let Some(path) = paths.get(index) else { break };
                    let result = one(path, settings);
                    if result.is_err() {
                        failed.fetch_add(1, Ordering::Relaxed);
                    } else if paths.len() > 1 {
                        eprintln!("measured {}", path.display());
                    }
                    *results[index].lock().unwrap_or_else(std::sync::PoisonError::into_inner) = Some(result);
                }
            });
        }
    });
    let done =
        results.into_iter().filter_map(|slot| slot.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner));
    done.collect()
}

fn one(path: &Path, settings: &Settings) -> Result<FrameDocument, CliError> {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
    let mut last = 0;
    let mut progress = |share: f64| {
        let tenth = (share * 10.0) as usize;
        // A pipe gets no line for every tenth; a person does.
        if tenth > last && std::io::stderr().is_terminal() {
            last = tenth;
            eprintln!("{name}: {} %", tenth * 10);
        }
        ControlFlow::Continue(())
    };
    take(path, &name, settings, &mut progress).map_err(|source| CliError::Frame { path: path.into(), source })
}

fn words(document: &FrameDocument) -> String {
    let figure = |m: Measured, unit: &str| with_unit(m.value, Some(m.plus_minus), unit);
    let mut lines = Lines::default();
    lines.add("file", &document.file);
    if let Some(card) = &document.card {
        lines.add("target card", format!("{}, field {} × {} mm", card.identity, card.field_mm[0], card.field_mm[1]));
        for sheet in &card.sheets {
            let mirrored = if sheet.mirrored { ", mirrored" } else { "" };
            lines.add(&format!("sheet {}", sheet.part), format!("turned {:.1} degrees{mirrored}", sheet.rotation_deg));
        }
    }
    if let Some(size) = document.magnification {
        lines.add("magnification", figure(size, ""));
        lines.add("  as a ratio", crate::web::fmt::ratio(size.value));
    }
    for place in document.places.iter().filter(|place| place.blade) {
        for found in place.sharpness.values().filter_map(|s| s.mtf50_lp_mm).take(1) {
            lines.add(&format!("{}: half contrast at", place.name), figure(found, "lp/mm on film"));
        }
    }
    for zone in &document.zones {
        for (line, sharpness) in &zone.sharpness {
            let on_film = sharpness.mtf50_lp_mm.map(|m| figure(m, "lp/mm on film"));
            let in_pixels = sharpness.mtf50_cy_px.map(|m| figure(m, "cycles/pixel"));
            let shown = on_film.or(in_pixels).unwrap_or_else(|| "not measured".into());
            lines.add(&format!("{}, {line}: half contrast at", zone.zone), shown);
        }
    }
    if let Some(fringing) = &document.fringing {
        for (name, channel) in &fringing.channels {
            if let Some(corner) = channel.field.last() {
                lines.add(&format!("{name} in the corner, outwards"), figure(corner.radial_um, "µm on film"));
            }
        }
    }
    if let Some(even) = &document.evenness {
        lines.add("darkest corner", figure(even.falloff_stops, "stops"));
    }
    if let Some(contrast) = document.contrast.get("luminance") {
        let glare = &contrast.glare;
        let shown = with_unit(100.0 * glare.value, glare.plus_minus.map(|u| 100.0 * u), "% of white");
        lines.add("veiling glare", format!("{} {shown}", glare.bound).trim());
    }
    for ramp in &document.ramps {
        lines.add(&format!("ramp {}: sharpest above the card", ramp.name), figure(ramp.focus_mm, "mm"));
        lines.add("  deep to half of the best contrast", figure(ramp.depth_mm, "mm"));
        if let Some(predicted) = ramp.predicted_mm {
            lines.add("  a perfect lens", with_unit(predicted, None, "mm"));
        }
    }
    for out in document.left_out_together() {
        lines.note(format!("left out: {}: {}", out.what, out.why));
    }
    for warning in &document.warnings {
        lines.note(warning);
    }
    lines.done()
}
