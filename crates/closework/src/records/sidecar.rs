//! A sidecar: one XMP packet (ISO 16684-1) with standard properties that any catalogue reads.
//!
//! | what | property | form |
//! | --- | --- | --- |
//! | title: what is on the frame, roll, number | `dc:title` | text |
//! | set-up, magnification, effective f-number, film, notes | `dc:description` | sentences |
//! | what is photographed | `dc:subject` | one phrase |
//! | film and its speed | `exif:UserComment` | text |
//! | body, as its owner calls it | `tiff:Model` | text |
//! | lens nearest the body | `exifEX:LensModel` | text |
//! | its marked focal length | `exif:FocalLength` | mm |
//! | f-number as engraved | `exif:FNumber` | 5.6 is 56/10 |
//! | shutter time | `exif:ExposureTime` | seconds, 1/125 stays 1/125 |
//! | subject to film | `exif:SubjectDistance` | metres, to the micrometre |
//! | film speed | `exif:ISOSpeedRatings`, `exifEX:PhotographicSensitivity` | whole numbers alone |
//! | when it was taken, where that was logged | `exif:DateTimeOriginal` | as logged |
//!
//! (CIPA DC-010, "Exif 2.3 metadata for XMP", for the EXIF properties and their forms.) The film stands in the description,
//! which every program shows, and alone in `exif:UserComment`, EXIF's own place for a remark on the picture. `dc:subject` is
//! not taken for it: that says what the picture shows, and a film among the beetles would spoil every index of subjects.
//!
//! What is not known is left out.

use xmp_writer::{CustomNamespace, Namespace, XmpWriter};

use super::mark;
use super::rational::Rational;
use crate::documents::MADE_BY;

/// What a sidecar says; nothing that is not known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sidecar {
    /// Its title.
    pub title: String,
    /// The set-up and everything else that has no property of its own, as sentences.
    pub description: String,
    /// What is photographed.
    pub subject: String,
    /// The film.
    pub film: String,
    /// The body, as its owner calls it.
    pub body: String,
    /// The lens nearest the body, as its owner calls it.
    pub lens: String,
    /// Its marked focal length, mm.
    pub focal_length_mm: Option<f64>,
    /// The f-number as engraved.
    pub f_number: Option<f64>,
    /// The shutter time, seconds.
    pub shutter_s: Option<f64>,
    /// Subject to film, mm.
    pub subject_to_film_mm: Option<f64>,
    /// The speed at which the film was exposed (ISO arithmetic).
    pub iso: Option<f64>,
    /// When it was taken, as RFC 3339 writes it, which is what XMP takes for a date.
    pub taken_at: Option<String>,
}

fn exif<'a>() -> Namespace<'a> {
    Namespace::Custom(Box::new(CustomNamespace::new("EXIF", "exif", "http://ns.adobe.com/exif/1.0/")))
}

fn exif_ex<'a>() -> Namespace<'a> {
    Namespace::Custom(Box::new(CustomNamespace::new("EXIF 2.3", "exifEX", "http://cipa.jp/exif/1.0/")))
}

fn tiff<'a>() -> Namespace<'a> {
    Namespace::Custom(Box::new(CustomNamespace::new("TIFF", "tiff", "http://ns.adobe.com/tiff/1.0/")))
}

fn ours<'a>() -> Namespace<'a> {
    Namespace::Custom(Box::new(CustomNamespace::new("Closework", mark::PREFIX, mark::NAMESPACE)))
}

impl Sidecar {
    /// The packet as the text of a file, with the mark by which it is known again.
    pub fn to_xmp(&self) -> String {
        let mut xmp = XmpWriter::new();
        self.texts(&mut xmp);
        self.gear(&mut xmp);
        self.exposure(&mut xmp);
        xmp.creator_tool(MADE_BY);
        xmp.element(mark::PROPERTY, ours()).value(mark::BLANK);
        mark::seal(&(xmp.finish(None) + "\n"))
    }

    fn texts(&self, xmp: &mut XmpWriter<'_>) {
        if let Some(title) = said(&self.title) {
            xmp.title([(None, title.as_str())]);
        }
        if let Some(description) = said(&self.description) {
            xmp.description([(None, description.as_str())]);
        }
        if let Some(subject) = said(&self.subject) {
            xmp.subject([subject.as_str()]);
        }
        if let Some(film) = said(&self.film) {
            xmp.element("UserComment", exif()).language_alternative([(None, film.as_str())]);
        }
    }

    fn gear(&self, xmp: &mut XmpWriter<'_>) {
        if let Some(body) = said(&self.body) {
            xmp.element("Model", tiff()).value(body.as_str());
        }
        if let Some(lens) = said(&self.lens) {
            xmp.element("LensModel", exif_ex()).value(lens.as_str());
        }
        rational(xmp, "FocalLength", self.focal_length_mm.and_then(Rational::of_decimals));
    }

    fn exposure(&self, xmp: &mut XmpWriter<'_>) {
        rational(xmp, "FNumber", self.f_number.and_then(Rational::of_decimals));
        rational(xmp, "ExposureTime", self.shutter_s.and_then(Rational::of_time));
        let metres = self.subject_to_film_mm.map(|mm| mm / 1000.0);
        rational(xmp, "SubjectDistance", metres.and_then(|m| Rational::rounded(m, METRE_DECIMALS)));
        if let Some(iso) = self.iso.and_then(whole_iso) {
            xmp.element("ISOSpeedRatings", exif()).ordered_array([iso]);
            xmp.element("PhotographicSensitivity", exif_ex()).value(iso);
        }
        if let Some(moment) = self.taken_at.as_deref().and_then(said) {
            xmp.element("DateTimeOriginal", exif()).value(moment.as_str());
        }
    }
}

/// Metres to the micrometre: finer than any set-up is known.
const METRE_DECIMALS: u32 = 6;

/// EXIF keeps a speed in 16 bits, and 65535 means "more than that" there.
fn whole_iso(iso: f64) -> Option<i32> {
    (iso.fract() == 0.0 && (1.0..65_535.0).contains(&iso)).then_some(iso as i32)
}

fn rational(xmp: &mut XmpWriter<'_>, name: &str, figure: Option<Rational>) {
    if let Some(figure) = figure {
        xmp.element(name, exif()).value(figure.to_string().as_str());
    }
}

/// A text that XML 1.0 can hold (section 2.2, "Characters"), without blanks around it; nothing when none is left. A line ends
/// with a line feed: a reader would make one of everything else (section 2.11).
fn said(text: &str) -> Option<String> {
    let lines = text.replace("\r\n", "\n").replace('\r', "\n");
    let legal = |c: &char| matches!(c, '\t' | '\n' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..);
    let text: String = lines.chars().filter(legal).collect();
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_owned())
}

#[cfg(test)]
mod tests {
    use super::super::mark::{Whose, whose};
    use super::*;

    #[test]
    fn nothing_known_is_nothing_said() {
        let text = Sidecar::default().to_xmp();
        for absent in ["exif:", "tiff:", "exifEX:", "dc:", "NaN"] {
            assert!(!text.contains(absent), "{absent}: {text}");
        }
        assert!(text.contains("<xmp:CreatorTool>closework "));
        assert_eq!(whose(text.as_bytes()), Whose::Ours);
    }

    #[test]
    fn what_xml_cannot_hold_is_left_out_and_the_rest_is_escaped() {
        let title = "a\u{0}\u{1b}<b> & \"c\" 'd'\r\ne\u{fffe}".to_owned();
        let text = Sidecar { title, ..Sidecar::default() }.to_xmp();
        assert!(text.contains("a&lt;b&gt; &amp; &quot;c&quot; &apos;d&apos;\ne</rdf:li>"), "{text}");
    }

    #[test]
    fn a_speed_that_is_no_whole_number_has_no_property() {
        assert_eq!(
            (whole_iso(64.0), whole_iso(0.8), whole_iso(65_535.0), whole_iso(12.5)),
            (Some(64), None, None, None)
        );
    }
}
