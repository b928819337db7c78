//! Pictures as named on the command line.

use imaging::ToneChoice;
use planes::Region;
use std::str::FromStr;

/// Numbers separated by commas, exactly `N` of them.
fn numbers<const N: usize>(text: &str, form: &str) -> Result<[f64; N], String> {
    let parsed: Option<Vec<f64>> = text.split(',').map(|piece| piece.trim().parse().ok()).collect();
    let parsed = parsed.filter(|list| list.iter().all(|number: &f64| number.is_finite()));
    parsed.and_then(|list| list.try_into().ok()).ok_or_else(|| format!("must be {form}, not \"{text}\""))
}

/// A rectangle in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Roi(pub Region);

impl FromStr for Roi {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let form = "X,Y,W,H in whole pixels, for example 120,80,100,200";
        let [x, y, width, height] = numbers(text, form)?;
        if x < 0.0 || y < 0.0 || width < 0.0 || height < 0.0 {
            return Err(format!("must lie within the picture, with no figure below 0, not \"{text}\""));
        }
        if width == 0.0 || height == 0.0 {
            return Err(format!("is empty: give a width and a height of 1 or more, not \"{text}\""));
        }
        let whole = |number: f64| {
            let fits = number.fract() == 0.0 && number <= f64::from(u32::MAX);
            fits.then_some(number as u32).ok_or_else(|| format!("must be {form}, not \"{text}\""))
        };
        Ok(Self(Region { x: whole(x)?, y: whole(y)?, width: whole(width)?, height: whole(height)? }))
    }
}

/// A point in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot(pub f64, pub f64);

impl FromStr for Spot {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let [x, y] = numbers(text, "X,Y in pixels, for example 120.5,80")?;
        Ok(Self(x, y))
    }
}

/// How numbers in a file become light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transfer(pub ToneChoice);

impl FromStr for Transfer {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let refused = || format!("\"{text}\" is no transfer; give icc, srgb, linear or gamma=G with G above 0");
        crate::whole_frame::tone(text).map(Self).ok_or_else(refused)
    }
}
