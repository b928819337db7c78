//! Points of a test as a person types them: "1=1.3, 10=20".

use crate::error::Problem;
use crate::parse::shown;
use film::Printed;

/// Points in the order in which they are typed. Commas, semicolons or line ends part them; where semicolons or line ends do, a comma is
/// a decimal comma. Either figure may be a fraction ("1/2=0.7", "10=1 1/2") and may carry its unit.
pub fn typed_points(text: &str) -> Result<Vec<(f64, f64)>, Problem> {
    let parted = text.trim_matches([';', '\n', '\r', ' ']).contains([';', '\n']);
    let pieces: Vec<String> = if parted {
        text.split([';', '\n']).map(|piece| piece.replace(',', ".")).collect()
    } else {
        text.split(',').map(Into::into).collect()
    };
    let pieces = pieces.iter().map(|piece| piece.trim()).filter(|piece| !piece.is_empty());
    pieces.enumerate().map(|(at, piece)| point(at + 1, piece)).collect()
}

fn point(place: usize, piece: &str) -> Result<(f64, f64), Problem> {
    let wrong = || Problem::NotAPoint { place, found: shown(piece) };
    let (metered, right) = piece.split_once('=').ok_or_else(wrong)?;
    Ok((figure(metered).ok_or_else(wrong)?, figure(right).ok_or_else(wrong)?))
}

fn figure(text: &str) -> Option<f64> {
    let bare =
        text.trim().trim_start_matches('+').trim_end_matches("stops").trim_end_matches("stop").trim_end_matches('s');
    Printed::read(bare.trim()).map(|printed| printed.value)
}

/// Points as they are typed and as the kit file holds them.
pub fn points_text(points: &[(f64, f64)]) -> String {
    points.iter().map(|(metered, right)| format!("{metered}={right}")).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_as_people_type_them() {
        let same = vec![(1.0, 1.3), (10.0, 20.0)];
        for text in [
            "1=1.3, 10=20",
            "1=1.3,10=20,",
            " 1 = 1.3 ; 10 = 20 ",
            "1=1,3; 10=20",
            "1 s = 1.3 s\n10 s = 20 s\n",
            "1=+1.3, 10=20stops",
        ] {
            assert_eq!(typed_points(text), Ok(same.clone()), "{text}");
        }
        assert_eq!(typed_points("1/2=1/3, 10=1 1/2"), Ok(vec![(0.5, 1.0 / 3.0), (10.0, 1.5)]));
        assert_eq!(typed_points(&points_text(&same)), Ok(same));
        assert_eq!(typed_points(""), Ok(Vec::new()));
    }

    #[test]
    fn what_is_no_point_is_told_by_its_place() {
        for (text, place, found) in [
            ("1=1.3, 10", 2, "10"),
            ("1=1,3, 10=20", 2, "3"),
            ("1=-1", 1, "1=-1"),
            ("1=1.3, ten=20", 2, "ten=20"),
            ("1=2=3", 1, "1=2=3"),
        ] {
            assert_eq!(typed_points(text), Err(Problem::NotAPoint { place, found: found.into() }), "{text}");
        }
    }
}
