//! `closework bench forms`, `closework bench set-up` and `closework bench kit`

use super::args::{self, BackFocusArg, CloseUpArg, FocusArg, SubjectArg};
use super::error::CliError;
use super::setup::{read_kit, request};
use super::text::Lines;
use crate::bench::{
    Asked, Coupled, Focus, Found, Glass, InFront, NOT_YOURS, Picture, Subject, Wanted, inside_words, mismatch,
    stand_in, trace, unheard, with_table, write,
};
use crate::documents::{BenchDocument, BenchFormsDocument, to_json};
use crate::web::fmt;
use rays::{BackFocus, CloseUp, CloseUpKind, Draw, Form, Looks, Zone, nearest_forms};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

pub fn forms(args: &args::BenchForms) -> Result<String, CliError> {
    let back_focus = args.back_focus.map(|back| match back {
        BackFocusArg::Short => BackFocus::Short,
        BackFocusArg::Usual => BackFocus::Usual,
        BackFocusArg::Long => BackFocus::Long,
    });
    let forms = nearest_forms(&Looks { elements: args.elements, symmetric: args.symmetric, back_focus });
    if args.json { Ok(to_json(&BenchFormsDocument::of(&forms))?) } else { Ok(list(&forms)) }
}

fn list(forms: &[&Form]) -> String {
    let mut lines = Lines::default();
    for form in forms {
        lines.add(form.key, format!("{}; {} elements", form.name, form.elements));
        lines.add("", form.source);
        lines.add("", mismatch(form));
        lines.add("", form.remark);
    }
    lines.note(NOT_YOURS);
    lines.done()
}

pub fn set_up(args: &args::BenchSetUp) -> Result<String, CliError> {
    let asked = asked(args)?;
    let wanted = wanted(&args.told, args.focus, args.frame_mm);
    let (set_up, design) = asked.set_up()?;
    let found = trace(&set_up, design, &wanted, &unheard)?;
    draw_frame(&args.drawn, set_up, args.frame_mm)?;
    if args.json { Ok(to_json(&BenchDocument::of(&found, &wanted))?) } else { Ok(words(&found, &wanted)) }
}

pub fn kit(args: &args::BenchKit) -> Result<String, CliError> {
    let path = &args.train.kit;
    let kit = with_tables(read_kit(path)?, &args.table)?;
    let request = request(&args.train, args.f_number, None);
    let setup = kit::Setup::resolve(&kit, &request).map_err(CliError::setup(path))?;
    let wanted = wanted(&args.told, args.sharpest, setup.numbers().frame);
    let (set_up, design) = stand_in(&setup)?;
    let mut found = trace(&set_up, design, &wanted, &unheard)?;
    found.remarks.extend(inside_words(&setup));
    draw_frame(&args.drawn, set_up, wanted.frame_mm)?;
    if args.json {
        Ok(to_json(&BenchDocument::of(&found, &wanted).of_parts(&request.parts))?)
    } else {
        Ok(words(&found, &wanted))
    }
}

/// The kit with tables from files in the place of what stood for its lenses.
fn with_tables(kit: kit::Kit, tables: &[(String, PathBuf)]) -> Result<kit::Kit, CliError> {
    tables.iter().try_fold(kit, |kit, (lens, path)| {
        let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        Ok(with_table(&kit, lens, &name, &table_text(path)?)?)
    })
}

/// The predicted frame, where one is asked for, with its progress told where a person can see it.
fn draw_frame(args: &args::BenchFrame, set_up: rays::SetUp, frame_mm: [f64; 2]) -> Result<(), CliError> {
    let Some(path) = &args.frame else { return Ok(()) };
    if path.exists() && !args.force {
        return Err(CliError::FrameThere(path.clone()));
    }
    let subject = match args.subject {
        SubjectArg::Card => Subject::Card,
        SubjectArg::Target => Subject::Target,
        SubjectArg::Beetle => Subject::Beetle,
        SubjectArg::Pod => Subject::Pod,
        SubjectArg::Crystal => Subject::Crystal,
    };
    let mut tenth = 0;
    write(&Picture { set_up, frame_mm, subject }, path, &mut |share| {
        let reached = (10.0 * share) as u32;
        if reached > tenth {
            tenth = reached;
            eprintln!("closework: the predicted frame is {} % drawn", 10 * tenth);
        }
        ControlFlow::Continue(())
    })
    .map(drop)
    .map_err(CliError::from)
}

fn wanted(told: &args::BenchTold, focus: FocusArg, frame_mm: [f64; 2]) -> Wanted {
    let corner = 0.5 * frame_mm[0].hypot(frame_mm[1]);
    Wanted {
        film_mm: if told.at_mm.is_empty() { vec![0.0, 0.5 * corner, corner] } else { told.at_mm.clone() },
        cycles_per_mm: told.lp_mm.clone(),
        through_focus: told.lp_mm.clone(),
        main_cycles_per_mm: told.lp_mm.first().copied().unwrap_or(20.0),
        focus: match focus {
            FocusArg::AsSet => Focus::AsSet,
            FocusArg::Middle => Focus::Middle,
            FocusArg::Field => Focus::Field,
            FocusArg::GroundGlass => Focus::GroundGlass,
        },
        film_half: told.film_half_lp,
        frame_mm,
    }
}

fn table_text(path: &Path) -> Result<String, CliError> {
    std::fs::read_to_string(path).map_err(|source| CliError::TableUnreadable { path: path.into(), source })
}

fn glass(form: Option<&str>, table: Option<&std::path::Path>) -> Result<Option<Glass>, CliError> {
    if let Some(path) = table {
        return Ok(Some(Glass::Table(table_text(path)?)));
    }
    Ok(form.map(|key| Glass::Form(key.trim().to_owned())))
}

fn asked(args: &args::BenchSetUp) -> Result<Asked, CliError> {
    let glass = glass(args.form.as_deref(), args.table.as_deref())?.ok_or(CliError::BenchWithoutLens)?;
    let draw = match (args.magnification, args.extension_mm, args.to_film_mm) {
        (Some(ratio), ..) => Draw::Magnification { ratio },
        (_, _, Some(mm)) => Draw::ToFilm { mm },
        (_, mm, _) => Draw::Extension { mm: mm.unwrap_or(0.0) },
    };
    let close_up = args.close_up_dpt.map(|power_dpt| InFront {
        lens: CloseUp { power_dpt, diameter_mm: args.close_up_mm, kind: made(args.close_up) },
        turned: args.close_up_turned,
        gap_mm: args.gap_mm,
    });
    let second = self::glass(args.coupled.as_deref(), args.coupled_table.as_deref())?;
    let coupled = second.map(|glass| Coupled {
        glass,
        focal_length_mm: args.coupled_focal_mm,
        f_number: args.coupled_f_number,
        gap_mm: args.gap_mm,
    });
    Ok(Asked {
        glass,
        focal_length_mm: args.focal_mm,
        f_number: args.f_number,
        reversed: args.reversed,
        draw,
        close_up,
        coupled,
    })
}

fn made(kind: CloseUpArg) -> CloseUpKind {
    match kind {
        CloseUpArg::Meniscus => CloseUpKind::Meniscus,
        CloseUpArg::PlanoConvex => CloseUpKind::PlanoConvex,
        CloseUpArg::Cemented => CloseUpKind::Achromat,
    }
}

fn words(found: &Found, wanted: &Wanted) -> String {
    let (told, mut lines) = (&found.prediction, Lines::default());
    match found.design.own() {
        None => lines.add("form", format!("{} ({})", found.design.name(), found.design.source())),
        Some(table) => {
            lines.add("form", format!("a lens table of your own, {}", table.scaling(found.focal_length_mm())))
        }
    };
    lines.add("", found.design.mismatch());
    lines.add("magnification", told.magnification.map_or("at infinity".into(), fmt::ratio));
    if let Some(mm) = told.subject_mm {
        lines.add("subject to the glass", format!("{} mm", fmt::figure(mm, 4)));
    }
    lines.add("last glass to film", format!("{} mm", fmt::figure(told.film_mm, 4)));
    lines.add("moved to focus", format!("{:+.2} mm", told.focus_mm));
    lines.add("effective f-number", fmt::figure(told.f_number, 3));
    if found.sums.petzval_per_mm != 0.0 {
        lines.add("Petzval radius", format!("{} mm", fmt::figure(-1.0 / found.sums.petzval_per_mm, 4)));
    }
    let axial = told.axial_mm.iter().map(|(colour, mm)| format!("{:.0} nm {mm:+.3} mm", 1e3 * colour.um()));
    lines.add("sharp by colour", axial.collect::<Vec<_>>().join(", "));
    for (film_mm, zone) in wanted.film_mm.iter().zip(&told.zones) {
        let label = format!("{} mm from the middle", fmt::figure(*film_mm, 3));
        match zone {
            Err(why) => lines.add(&label, format!("dark: {why}")),
            Ok(zone) => place(&mut lines, &label, zone, &wanted.cycles_per_mm),
        };
    }
    for remark in &found.remarks {
        lines.note(remark);
    }
    lines.done()
}

fn place<'l>(lines: &'l mut Lines, label: &str, zone: &Zone, cycles_per_mm: &[f64]) -> &'l mut Lines {
    let contrast = cycles_per_mm.iter().zip(&zone.transfer).map(|(lp, transfer)| {
        format!("{lp} lp/mm {:.2} sagittal {:.2} tangential", transfer.sagittal.abs(), transfer.tangential.contrast())
    });
    lines.add(label, contrast.collect::<Vec<_>>().join(", "));
    let colour = |at: usize| zone.colours_mm.get(at).map_or(0.0, |(_, mm)| 1e3 * mm);
    lines.add("", format!("red {:+.1} µm, blue {:+.1} µm outward", colour(2), colour(0)));
    lines.add(
        "",
        format!(
            "sharpest {:+.2} mm from the film (sagittal {:+.2}, tangential {:+.2}), spot {:.1} µm and wave {:.2} rms",
            zone.own_focus_mm,
            zone.field_focus.sagittal_mm,
            zone.field_focus.tangential_mm,
            1e3 * zone.spot.rms_mm(),
            zone.waves
        ),
    );
    lines.add(
        "",
        format!(
            "light {:.2}, distortion {:+.2} %; of {} rays {} arrive",
            zone.illumination,
            1e2 * zone.distortion,
            zone.census.sent,
            zone.census.arrived()
        ),
    )
}
