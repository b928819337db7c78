//! The few properties of an XMP packet (ISO 16684-1) that matter here; as attributes of `rdf:Description` or as elements.

use quick_xml::Reader;
use quick_xml::events::Event;

use crate::notes::{Moment, Notes, Resolution, ResolutionUnit, clean};

/// Largest packet that is looked at; those of photographs with their history have some hundred kB.
const MAX_BYTES: usize = 4 << 20;

/// Properties by their usual prefixes, which every writer keeps to.
#[derive(Default)]
struct Found {
    notes: Notes,
    across: Option<f64>,
    down: Option<f64>,
    unit: Option<u32>,
}

impl Found {
    fn take(&mut self, name: &str, value: &str) {
        let text = || clean(value.as_bytes());
        let notes = &mut self.notes;
        match name {
            "tiff:Orientation" => notes.orientation = notes.orientation.or(value.trim().parse().ok()),
            "tiff:Make" => notes.maker = notes.maker.take().or_else(text),
            "tiff:Model" => notes.model = notes.model.take().or_else(text),
            "xmp:CreatorTool" | "tiff:Software" => notes.software = notes.software.take().or_else(text),
            "exif:DateTimeOriginal" | "xmp:CreateDate" | "tiff:DateTime" => {
                notes.moment = notes.moment.or_else(|| Moment::parse(value));
            }
            "tiff:XResolution" => self.across = self.across.or_else(|| fraction(value)),
            "tiff:YResolution" => self.down = self.down.or_else(|| fraction(value)),
            "tiff:ResolutionUnit" => self.unit = self.unit.or(value.trim().parse().ok()),
            _ => {}
        }
    }

    fn notes(self) -> Notes {
        let unit = ResolutionUnit::from_tag(self.unit.unwrap_or(2));
        let resolution = match (self.across, unit) {
            (Some(across), Some(unit)) => Some(Resolution { across, down: self.down.unwrap_or(across), unit }),
            _ => None,
        };
        Notes { resolution, ..self.notes }
    }
}

/// "4000/1" or "4000".
fn fraction(text: &str) -> Option<f64> {
    let (above, below) = text.trim().split_once('/').unwrap_or((text.trim(), "1"));
    let value = above.parse::<f64>().ok()? / below.parse::<f64>().ok()?;
    (value.is_finite() && value > 0.0).then_some(value)
}

/// Reads a packet as far as it is sound: a damaged one must not spoil a sound picture.
pub(crate) fn read(packet: &[u8]) -> Notes {
    let mut found = Found::default();
    if packet.len() > MAX_BYTES {
        return Notes::default();
    }
    let text = String::from_utf8_lossy(packet);
    let mut reader = Reader::from_str(&text);
    reader.config_mut().check_end_names = false;
    let mut element = String::new();
    loop {
        match reader.read_event() {
            Ok(Event::Start(start)) => {
                attributes(&start, &mut found);
                element = start.name().as_ref().to_owned();
            }
            Ok(Event::Empty(start)) => attributes(&start, &mut found),
            Ok(Event::Text(text)) => {
                found.take(&element, &text);
            }
            Ok(Event::End(_)) => element.clear(),
            Ok(Event::Eof) | Err(_) => return found.notes(),
            Ok(_) => {}
        }
    }
}

fn attributes(start: &quick_xml::events::BytesStart<'_>, found: &mut Found) {
    for attribute in start.attributes().with_checks(false).flatten() {
        found.take(attribute.key.as_ref(), &attribute.value);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    const HEAD: &str =
        r#"<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF>"#;

    #[test]
    fn properties_are_attributes_or_elements() {
        let attributes = r#"<rdf:Description tiff:Orientation="6" tiff:Make='Maker' xmp:CreateDate="2026-05-01T14:03:59Z"
            tiff:XResolution="4000/1" tiff:YResolution="2000/1" tiff:ResolutionUnit="2"/>"#;
        let elements = "<rdf:Description><tiff:Orientation>6</tiff:Orientation><tiff:Make>Maker</tiff:Make>
            <xmp:CreateDate>2026-05-01T14:03:59Z</xmp:CreateDate><tiff:XResolution>4000</tiff:XResolution>
            <tiff:YResolution>2000/1</tiff:YResolution></rdf:Description>";
        for body in [attributes, elements] {
            let notes = read(format!("{HEAD}{body}</rdf:RDF></x:xmpmeta>").as_bytes());
            assert_eq!((notes.orientation, notes.maker.as_deref()), (Some(6), Some("Maker")), "{body}");
            assert_eq!(notes.moment.map(|m| m.to_string()).as_deref(), Some("2026-05-01 14:03:59"));
            let resolution = notes.resolution.unwrap();
            assert_eq!(resolution.unit, ResolutionUnit::Inch);
            assert_close!(resolution.across, 4000.0, relative = 1e-12);
            assert_close!(resolution.down, 2000.0, relative = 1e-12);
        }
    }

    #[test]
    fn what_is_damaged_says_what_it_says_before_the_damage() {
        let notes = read(b"<a tiff:Orientation=\"3\"/><<<>");
        assert_eq!(notes.orientation, Some(3));
        for packet in [&b""[..], b"\0\xff\xfe", b"<", b"<a b", b"tiff:Orientation"] {
            assert_eq!(read(packet), Notes::default(), "{packet:?}");
        }
        assert_eq!(read(&vec![b' '; MAX_BYTES + 1]), Notes::default());
    }

    #[test]
    fn no_unit_gives_no_resolution() {
        let notes = read(b"<a tiff:XResolution=\"4000/1\" tiff:ResolutionUnit=\"1\"/>");
        assert_eq!(notes.resolution, None);
        assert_eq!(read(b"<a tiff:XResolution=\"4000/0\"/>").resolution, None);
    }
}
