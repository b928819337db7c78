//! Values as typed behind an option. Each refusal is to be read after the option's name: "--coc-mm must be above 0 …".

use std::net::{Ipv4Addr, SocketAddr};

/// A finite number written plainly.
fn plain(text: &str) -> Result<f64, String> {
    let number = |text: &str| text.trim().parse::<f64>().ok();
    if text.starts_with("--") {
        return Err(format!("needs a number after it, not {text}"));
    }
    match number(text) {
        Some(found) if found.is_finite() => Ok(found),
        Some(_) => Err(format!("must be a finite number, not {}", shown(text))),
        None => {
            let meant = |text: &str| number(text).filter(|found| found.is_finite());
            let bare = text.trim_end_matches(|c: char| c.is_alphabetic() || c == ' ' || c == '×');
            Err(match (meant(&text.replace(',', ".")), meant(bare)) {
                (Some(point), _) => format!("must be written with a point: {point}"),
                (_, Some(bare)) => format!("must be written without a unit: {bare}"),
                _ => format!("must be a number, not \"{}\"", shown(text)),
            })
        }
    }
}

/// Enough of what was typed to recognise it.
pub fn shown(text: &str) -> String {
    text.chars().take(40).map(|c| if c.is_control() { ' ' } else { c }).collect()
}

fn above_zero(found: f64, text: &str) -> Result<f64, String> {
    if found > 0.0 { Ok(found) } else { Err(format!("must be above 0, not {}", shown(text))) }
}

/// Any finite number; a leading plus is understood.
pub fn number(text: &str) -> Result<f64, String> {
    plain(text)
}

/// A whole number that is 1 or more.
pub fn some_count(text: &str) -> Result<usize, String> {
    match count(text)? {
        0 => Err("must be 1 or more, not 0".into()),
        found => Ok(found),
    }
}

/// What a card reflects, in per cent: 18 or 18%.
pub fn reflected(text: &str) -> Result<f64, String> {
    let found = plain(text.trim().trim_end_matches('%').trim_end())?;
    let told = || format!("must be from 1 to 100 per cent, 18 for a grey card, not {}", shown(text));
    if (1.0..=100.0).contains(&found) { Ok(found) } else { Err(told()) }
}

/// What the subject is lit by.
pub fn lamp(text: &str) -> Result<film::Lamp, String> {
    match text.trim() {
        "daylight" => Ok(film::Lamp::Daylight),
        "tungsten" => Ok(film::Lamp::Tungsten),
        _ => Err(format!("must be daylight or tungsten, not {}", shown(text))),
    }
}

/// A guide number in metres: 28, 28m or 92ft.
pub fn metres(text: &str) -> Result<f64, String> {
    crate::web::form::parse_metres(text, 1.0)
        .ok_or_else(|| format!("must be a guide number above 0 with its unit, as 28m or 92ft, not {}", shown(text)))
}

/// A distance in metres; its unit must be said, as a flash may stand 40 cm or 40 ft away.
pub fn distance(text: &str) -> Result<f64, String> {
    let unit = text.trim().ends_with(|c: char| c.is_alphabetic() || matches!(c, '\'' | '"'));
    let found = crate::web::form::parse_metres(text, 1.0).filter(|_| unit);
    found.ok_or_else(|| format!("must be a length above 0 with its unit, as 400mm, 0.4m or 16in, not {}", shown(text)))
}

/// A share of a flash's power, above 0 and at most 1: 1/4 or 0.25.
pub fn power(text: &str) -> Result<f64, String> {
    let found = crate::web::form::parse_seconds(text.trim()).filter(|share| *share <= 1.0);
    found.ok_or_else(|| format!("must be a share of the full power such as 1/4, at most 1, not {}", shown(text)))
}

/// A number above 0.
pub fn positive(text: &str) -> Result<f64, String> {
    above_zero(plain(text)?, text)
}

/// A number that is 0 or more.
pub fn not_negative(text: &str) -> Result<f64, String> {
    let found = plain(text)?;
    if found >= 0.0 { Ok(found) } else { Err(format!("must be 0 or more, not {}", shown(text))) }
}

/// What a grey sends back of the light that falls on it.
pub fn reflectance(text: &str) -> Result<f64, String> {
    let found = plain(text)?;
    let told = || format!("must be above 0 and at most 1 (0.18 sends back 18 %), not {}", shown(text));
    if found > 0.0 && found <= 1.0 { Ok(found) } else { Err(told()) }
}

/// The distance of a ruler's marks in millimetres: 1, 0.5, or 1/16in.
pub fn marks(text: &str) -> Result<f64, String> {
    if text.starts_with("--") {
        return Err(format!("needs a distance after it, not {text}"));
    }
    let told = || format!("must be millimetres above 0, as 1 or 0.5, or inches, as 1/16in, not {}", shown(text));
    crate::web::form::parse_marks_mm(text).ok_or_else(told)
}

/// What a printed line of 100 mm measures: printers err by a few per cent at most.
pub fn line(text: &str) -> Result<f64, String> {
    let found = plain(text)?;
    let told =
        || format!("must lie between 80 and 120 (it is the line that should be 100 mm long), not {}", shown(text));
    if (80.0..=120.0).contains(&found) { Ok(found) } else { Err(told()) }
}

/// A whole number that is 0 or more.
pub fn count(text: &str) -> Result<usize, String> {
    text.trim().parse().map_err(|_| match text {
        option if option.starts_with("--") => format!("needs a whole number after it, not {option}"),
        _ => format!("must be a whole number, 0 or more, not {}", shown(text)),
    })
}

/// One side or both, in millimetres: 40 or 40x25. The longer one comes first, however it was typed.
pub fn none_or_one(text: &str) -> Result<usize, String> {
    Some(count(text)?).filter(|n| *n <= 1).ok_or_else(|| format!("must be 0 or 1, not {}", text.trim()))
}

pub fn one_or_two(text: &str) -> Result<usize, String> {
    Some(count(text)?).filter(|n| (1..=2).contains(n)).ok_or_else(|| format!("must be 1 or 2, not {}", text.trim()))
}

pub fn roll(text: &str) -> Result<u32, String> {
    let frames = u32::try_from(count(text)?).ok().filter(|frames| (1..=2000).contains(frames));
    frames.ok_or_else(|| format!("must be 1 to 2000 frames, not {}", text.trim()))
}

pub fn sides(text: &str) -> Result<(f64, Option<f64>), String> {
    match text.split_once(['x', '×', 'X']) {
        None => Ok((positive(text)?, None)),
        Some((a, b)) => {
            let (a, b) = (positive(a)?, positive(b)?);
            Ok((a.max(b), Some(a.min(b))))
        }
    }
}

/// A field as it lies in the frame, in millimetres: 56 (square) or 56x42.
pub fn field(text: &str) -> Result<[f64; 2], String> {
    match text.split_once(['x', '×', 'X']) {
        None => positive(text).map(|side| [side, side]),
        Some((width, height)) => Ok([positive(width)?, positive(height)?]),
    }
}

/// A lens of the kit and a file: normal-85=lens.txt.
pub fn lens_and_file(text: &str) -> Result<(String, std::path::PathBuf), String> {
    match text.split_once('=').map(|(lens, file)| (lens.trim(), file.trim())) {
        Some((lens, file)) if !lens.is_empty() && !file.is_empty() => Ok((lens.to_owned(), file.into())),
        _ => Err(format!("must be the lens's id, =, and a file, as normal-85=lens.txt, not {}", shown(text))),
    }
}

/// A share above 0, up to 1: 0.7 or 70%.
pub fn share(text: &str) -> Result<f64, String> {
    let found = percent(text)?;
    if found > 0.0 && found <= 1.0 {
        Ok(found)
    } else {
        Err(format!("must be above 0 and at most 1 (or 100%), not {}", shown(text)))
    }
}

/// A share from 0 to below 1: 0.2 or 20%.
pub fn crop(text: &str) -> Result<f64, String> {
    let found = percent(text)?;
    if (0.0..1.0).contains(&found) {
        Ok(found)
    } else {
        Err(format!("must be from 0 to below 1 (or 100%), not {}", shown(text)))
    }
}

fn percent(text: &str) -> Result<f64, String> {
    match text.trim().strip_suffix('%') {
        Some(bare) => Ok(plain(bare)? / 100.0),
        None => plain(text),
    }
}

/// An engraved f-number: 8 or f/8.
pub fn f_number(text: &str) -> Result<f64, String> {
    let bare = text.trim().trim_start_matches(['f', 'F']).trim_start_matches('/');
    // What is left of "far" is no better than "far" itself.
    let found = plain(bare).map_err(|why| if bare.len() < text.trim().len() { not_f(text) } else { why })?;
    above_zero(found, text)
}

fn not_f(text: &str) -> String {
    format!("must be an f-number such as 8 or f/8, not {}", shown(text))
}

/// Seconds: 0.5, 1/125 or 1/125s.
pub fn seconds(text: &str) -> Result<f64, String> {
    let bare = text.trim().trim_end_matches('s').trim_end();
    let found = match bare.split_once('/') {
        None => plain(bare)?,
        Some((above, below)) => {
            let parts = plain(above).ok().zip(plain(below).ok());
            parts
                .map(|(above, below)| above / below)
                .filter(|time| time.is_finite())
                .ok_or_else(|| not_seconds(text))?
        }
    };
    above_zero(found, text)
}

fn not_seconds(text: &str) -> String {
    format!("must be seconds such as 0.5 or 1/125, not {}", shown(text))
}

/// A magnification: 0.5, 0.5x, 1:2 or 1/2.
pub fn magnification(text: &str) -> Result<f64, String> {
    let bare = text.trim().trim_end_matches(['x', '×']);
    let found = match bare.split_once([':', '/']) {
        None => plain(bare)?,
        Some((film, subject)) => {
            let parts = plain(film).ok().zip(plain(subject).ok());
            let wrong = || format!("must be a magnification such as 0.5 or 1:2, not {}", shown(text));
            parts.map(|(film, subject)| film / subject).filter(|m| m.is_finite()).ok_or_else(wrong)?
        }
    };
    above_zero(found, text)
}

/// A job's number.
pub fn job(text: &str) -> Result<notebook::JobId, String> {
    let told = || format!("must be the number of a job, such as 1, not {}", shown(text));
    text.trim().parse().map_err(|_| told())
}

/// A confidence.
pub fn sure(text: &str) -> Result<f64, String> {
    let found = text.trim().parse().ok().filter(|sure: &f64| *sure > 0.5 && *sure < 1.0);
    found.ok_or_else(|| format!("must be a number above 0.5 and below 1, such as 0.95, not {}", shown(text)))
}

/// A number of worlds.
pub fn worlds(text: &str) -> Result<usize, String> {
    const MOST: usize = 100_000;
    let least = verdict::decision::LEAST_WORLDS;
    let found = text.trim().parse().ok().filter(|worlds| (least..=MOST).contains(worlds));
    found.ok_or_else(|| format!("must be a whole number from {least} to {MOST}, not {}", shown(text)))
}

/// An address with its port; `localhost` is 127.0.0.1.
pub fn address(text: &str) -> Result<SocketAddr, String> {
    let local = text.strip_prefix("localhost:").and_then(|port| port.parse().ok());
    let local = local.map(|port: u16| SocketAddr::from((Ipv4Addr::LOCALHOST, port)));
    local.or_else(|| text.parse().ok()).ok_or_else(|| {
        format!("must be an address of this machine and a port, such as 127.0.0.1:4620, not {}", shown(text))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_understood() {
        for (text, time) in [("1/125", 0.008), ("1/125s", 0.008), ("1/4 s", 0.25), ("2s", 2.0), ("0.5", 0.5)] {
            assert_eq!(seconds(text), Ok(time), "{text}");
        }
        for (text, stop) in [("8", 8.0), ("f/8", 8.0), ("F5.6", 5.6), ("f8", 8.0)] {
            assert_eq!(f_number(text), Ok(stop), "{text}");
        }
        for (text, m) in [("1:2", 0.5), ("2:1", 2.0), ("0.5x", 0.5), ("0.5×", 0.5), ("1/4", 0.25), ("1 : 4", 0.25)] {
            assert_eq!(magnification(text), Ok(m), "{text}");
        }
        for (text, m) in [("28", 28.0), ("28m", 28.0), ("100 ft", 30.48)] {
            assert_eq!(metres(text), Ok(m), "{text}");
        }
        assert_eq!(
            (reflected("18%"), number("+2"), power("1/4"), some_count("3")),
            (Ok(18.0), Ok(2.0), Ok(0.25), Ok(3))
        );
        assert_eq!(distance("40cm"), Ok(0.4));
        assert_eq!(lamp("tungsten"), Ok(film::Lamp::Tungsten));
        assert_eq!(address("localhost:80").map(|found| found.to_string()), Ok("127.0.0.1:80".into()));
        assert_eq!(count("0"), Ok(0));
    }

    #[test]
    fn what_is_not_says_what_to_write() {
        let table = [
            (positive("-1"), "above 0, not -1"),
            (positive("0"), "above 0, not 0"),
            (positive("0,03"), "with a point: 0.03"),
            (positive("0.03mm"), "without a unit: 0.03"),
            (positive("inf"), "finite"),
            (positive("1e999"), "finite"),
            (positive("--json"), "needs a number after it"),
            (positive("wide"), "a number, not \"wide\""),
            (not_negative("-0.5"), "0 or more, not -0.5"),
            (reflectance("0"), "above 0 and at most 1"),
            (reflectance("18"), "0.18 sends back 18 %"),
            (reflectance("-0.2"), "not -0.2"),
            (f_number("-5"), "above 0, not -5"),
            (f_number("far"), "8 or f/8"),
            (f_number("f/0"), "above 0"),
            (seconds("1/0"), "1/125"),
            (seconds("soon"), "a number"),
            (seconds("-1/125"), "above 0"),
            (magnification("1:0"), "1:2"),
            (magnification("0:1"), "above 0"),
            (reflected("0.18"), "from 1 to 100 per cent"),
            (metres("28yd"), "28m or 92ft"),
            (metres("-28m"), "above 0"),
            (distance("0.4"), "with its unit"),
            (distance("0m"), "above 0"),
            (power("2"), "at most 1"),
            (power("1/0"), "such as 1/4"),
            (some_count("0").map(|n| n as f64), "1 or more"),
            (lamp("candle").map(|_| 0.0), "daylight or tungsten"),
            (count("-1").map(|n| n as f64), "whole number, 0 or more, not -1"),
            (count("2.5").map(|n| n as f64), "whole number"),
            (job("beetles").map(|job| job.0 as f64), "the number of a job, such as 1, not beetles"),
            (job("-1").map(|job| job.0 as f64), "the number of a job"),
        ];
        for (found, words) in table {
            assert!(found.as_ref().is_err_and(|why| why.contains(words)), "{words}: {found:?}");
        }
        assert!(address("somewhere").is_err_and(|why| why.contains("127.0.0.1:4620")));
    }
}
