//! A scan with what is measured in it, ready to be compared.

use notebook::{Frame, Job, Measurement, Notebook, NotebookError, Scan, ScanId};

use crate::documents::{EdgeDocument, FrameDocument, PlacingDocument};
use crate::web::fmt;
use crate::web::kit_book::{read_kit, set_up_name};
use crate::web::scans::{edge_of, frame_of, subject_scale};

/// A measured edge: where, and what.
pub(super) struct Edge {
    pub label: String,
    pub document: EdgeDocument,
}

/// A figure with the half-width of its 95 % interval, where that is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Figure {
    pub value: f64,
    pub plus_minus: Option<f64>,
}

/// One scan of the comparison.
pub(super) struct Compared {
    pub scan: Scan,
    /// The frame that it shows, when that is said.
    pub frame: Option<Frame>,
    /// The frame's set-up by the names that its parts have in the kit.
    named: String,
    /// The job that it belongs to.
    pub job: Option<Job>,
    /// What is known of its place on others.
    pub placing: PlacingDocument,
    /// The newest measurement of the whole frame.
    pub whole: Option<FrameDocument>,
    pub edges: Vec<Edge>,
    /// Pixels that one millimetre of the subject takes, with half-width.
    pub px_per_mm: Option<(f64, Option<f64>)>,
}

impl Compared {
    /// Those of the scans that are there.
    pub(super) fn read(book: &Notebook, ids: &[ScanId]) -> Result<Vec<Self>, NotebookError> {
        let mut all = Vec::new();
        // Without a kit that can be read parts have their short names.
        let kit = read_kit(book).unwrap_or_default();
        // A long address must not make a long search: whatever exceeds a page's worth is not shown anyway.
        for id in ids.iter().take(2 * super::MOST) {
            if let Some(scan) = book.scan(*id)? {
                let measurements = book.measurements(scan.id)?;
                let frame = scan.frame.map(|id| book.frame(id)).transpose()?.flatten();
                let job = scan.job.map(|id| book.job(id)).transpose()?.flatten();
                let placing = placing(book, scan.id)?;
                let named = frame.as_ref().map_or(String::new(), |frame| set_up_name(&kit, &frame.parts));
                all.push(Self { frame, named, job, placing, ..Self::of(scan, &measurements) });
            }
        }
        Ok(all)
    }

    fn of(scan: Scan, measurements: &[Measurement]) -> Self {
        let edge = |m: &Measurement| Some(Edge { label: m.label.trim().to_owned(), document: edge_of(m)? });
        let px_per_mm = subject_scale(&scan, measurements);
        let edges = measurements.iter().filter_map(edge).collect();
        let whole = measurements.iter().rev().find_map(frame_of);
        let placing = PlacingDocument::default();
        Self { edges, px_per_mm, whole, placing, frame: None, named: String::new(), job: None, scan }
    }

    /// The middle of the frame, pixels.
    pub(super) fn middle(&self) -> (f64, f64) {
        (self.width() / 2.0, f64::from(self.scan.height.unwrap_or(1)) / 2.0)
    }

    /// Half of the contrast left, in line pairs per mm on the subject.
    pub(super) fn on_subject(&self, edge: &EdgeDocument) -> Option<Figure> {
        let channel = edge.main_channel()?;
        let (px_per_mm, scale_plus_minus) = self.px_per_mm?;
        let f = channel.mtf50_cy_px?;
        let value = f * px_per_mm;
        // The edge's own interval and the scale's are independent.
        let own = channel.mtf50_plus_minus.map(|u| u / f);
        let plus_minus = own.map(|own| value * own.hypot(scale_plus_minus.unwrap_or(0.0) / px_per_mm));
        Some(Figure { value, plus_minus })
    }

    /// The same in the best terms that are known, in words; without further ones it is meant on the subject.
    pub(super) fn figure(&self, edge: &EdgeDocument) -> String {
        if let Some(figure) = self.on_subject(edge) {
            return format!("{} lp/mm", fmt::measured(figure.value, figure.plus_minus));
        }
        let channel = edge.main_channel();
        match channel.and_then(|c| Some((c.mtf50_cy_px?, c.mtf50_plus_minus))) {
            None => "no figure at one half".into(),
            Some((f, u)) => match self.scan.pitch_um {
                Some(pitch) => {
                    let on_film = |f: f64| f * 1000.0 / pitch;
                    format!("{} lp/mm on film only", fmt::measured(on_film(f), u.map(on_film)))
                }
                None => format!("{} cycles per pixel only", fmt::measured(f, u)),
            },
        }
    }

    /// The frame's set-up in a line: parts from the body outwards, focus, f-number.
    pub(super) fn set_up(&self) -> Option<String> {
        let frame = self.frame.as_ref()?;
        let mut words = vec![format!("frame {}", frame.number)];
        if !self.named.is_empty() {
            words.push(self.named.clone());
        }
        words.extend(frame.f_number.map(|n| format!("f/{n}")));
        Some(words.join(", "))
    }

    /// The newest edge of each place.
    pub(super) fn newest_edges(&self) -> Vec<&Edge> {
        let later =
            |i: usize, edge: &Edge| self.edges[i + 1..].iter().any(|e| e.label.eq_ignore_ascii_case(&edge.label));
        self.edges.iter().enumerate().filter(|(i, edge)| !later(*i, edge)).map(|(_, edge)| edge).collect()
    }

    pub(super) fn width(&self) -> f64 {
        f64::from(self.scan.width.unwrap_or(1))
    }

    /// Width and height, pixels.
    pub(super) fn size(&self) -> (f64, f64) {
        (self.width(), f64::from(self.scan.height.unwrap_or(1)))
    }
}

/// What is kept of a scan's place; nothing when it is in a form that this version cannot read.
pub(super) fn placing(book: &Notebook, id: ScanId) -> Result<PlacingDocument, NotebookError> {
    let kept = book.placing(id)?;
    Ok(kept.and_then(|placing| serde_json::from_str(&placing.document).ok()).unwrap_or_default())
}
