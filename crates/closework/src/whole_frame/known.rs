//! Known responses: a scanner's from a blade that was measured, a film's from its data sheet.

use measure::{KnownResponse, ResponseError, TablePoint};
use serde::{Deserialize, Serialize};

use crate::documents::EdgeDocument;

/// A response by line pairs per mm on film, as it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Known {
    /// What it is called.
    pub name: String,
    /// The way the measured edge ran: "near-vertical" tells what happens across the picture, "near-horizontal" up and down;
    /// empty where the way does not matter.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub direction: String,
    /// Line pairs per mm on film, response, half-width of the 95 % interval.
    pub table: Vec<[f64; 3]>,
}

/// Why a response cannot be taken over.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum KnownError {
    /// Neither a measured edge nor a table.
    #[error("it is neither what \"closework measure edge --json\" prints nor a table of lp/mm and response ({0})")]
    Neither(String),
    /// The edge's pitch was not known.
    #[error("the edge was measured without the scan's pitch; measure it again with --pitch-um")]
    NoPitch,
    /// A line of a table that is not understood.
    #[error("line {line} is \"{text}\"; write line pairs per mm and response, for example 40, 0.62")]
    Line {
        /// Counted from 1.
        line: usize,
        /// As written.
        text: String,
    },
    /// Figures that no response has.
    #[error("{0}")]
    Response(#[from] ResponseError),
}

impl Known {
    /// From the text of a file: the JSON of a measured edge, or lines of lp/mm, response and, when known, its half-width.
    pub fn read(name: &str, text: &str) -> Result<Self, KnownError> {
        let known = if text.trim_start().starts_with('{') {
            let edge = serde_json::from_str(text).map_err(|e| KnownError::Neither(e.to_string()))?;
            Self::of_edge(name, &edge)?
        } else {
            Self::of_lines(name, text)?
        };
        // Checked where it is read, so that the file's name can be said.
        known.at_pitch(10.0)?;
        Ok(known)
    }

    /// From a blade's edge that was measured on the same scanner at the same setting.
    pub fn of_edge(name: &str, edge: &EdgeDocument) -> Result<Self, KnownError> {
        let pitch_um = edge.pitch_um.ok_or(KnownError::NoPitch)?;
        let channel = edge.main_channel().ok_or_else(|| KnownError::Neither("it has no curve".into()))?;
        let half = |i: usize| channel.sfr_plus_minus.get(i).copied().unwrap_or(0.0);
        let line = |(i, [f, r]): (usize, &[f64; 2])| [f * 1000.0 / pitch_um, *r, half(i)];
        let table = channel.sfr.iter().enumerate().map(line).take_while(|[_, response, _]| *response > 0.0).collect();
        Ok(Self { name: name.into(), direction: edge.direction.clone(), table })
    }

    fn of_lines(name: &str, text: &str) -> Result<Self, KnownError> {
        let mut table = Vec::new();
        for (index, line) in text.lines().enumerate() {
            let written = line.split('#').next().unwrap_or("").trim();
            if written.is_empty() {
                continue;
            }
            let wrong = || KnownError::Line { line: index + 1, text: written.into() };
            let split = |c: char| c == ',' || c == ';' || c.is_whitespace();
            let words: Vec<&str> = written.split(split).filter(|word| !word.is_empty()).collect();
            let numbers: Vec<f64> = words.iter().map_while(|word| word.parse().ok()).collect();
            match numbers[..] {
                [lp_mm, response] if words.len() == 2 => table.push([lp_mm, response, 0.0]),
                [lp_mm, response, half] if words.len() == 3 => table.push([lp_mm, response, half]),
                // The head of a table.
                [] if table.is_empty() => {}
                _ => return Err(wrong()),
            }
        }
        Ok(Self { name: name.into(), direction: String::new(), table })
    }

    /// The response at a scan's pitch.
    pub fn at_pitch(&self, pitch_um: f64) -> Result<KnownResponse, ResponseError> {
        let point = |&[lp_mm, response, plus_minus]: &[f64; 3]| TablePoint { lp_mm, response, plus_minus };
        let table: Vec<_> = self.table.iter().map(point).collect();
        KnownResponse::of_table(self.name.clone(), &table, pitch_um)
    }

    /// Of several for one scanner, the one that was taken the way an edge runs; else any.
    pub fn fitting<'k>(all: &'k [Self], direction: &str) -> Option<&'k Self> {
        all.iter().find(|known| known.direction == direction).or(all.first())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_is_read_with_or_without_a_head_and_half_widths() {
        let text = "lp/mm; response\n# from a data sheet\n10; 1.02\n50, 0.7 0.05 # read off\n\n100\t0.3\n";
        let known = Known::read("a film", text).unwrap();
        assert_eq!(known.table, [[10.0, 1.02, 0.0], [50.0, 0.7, 0.05], [100.0, 0.3, 0.0]]);
    }

    #[test]
    fn what_is_no_response_is_refused() {
        let refused = |text: &str| Known::read("x", text).unwrap_err().to_string();
        assert!(refused("10, 0.9\n20; much\n").contains("line 2"));
        assert!(refused("10, 0.9\n5, 0.8\n").contains("must ascend"));
        assert!(refused("10, 90\n20, 70\n").contains("between 0 and 1.5"));
        assert!(refused("").contains("at least 2"));
        assert!(refused("{\"angle_deg\": 5}").contains("neither"));
        let mut edge: EdgeDocument = serde_json::from_str(
            r#"{"angle_deg":5,"channels":{"luminance":{"mtf50_cy_px":0.2,"mtf50_plus_minus":0.01,"mtf10_cy_px":null,
                "rise_10_90_px":2,"sfr":[[0,1],[0.1,0.8],[0.2,0.5],[0.3,-0.01]],"sfr_plus_minus":[0,0.01,0.02,0.02]}},
                "contrast":0.8,"clipped_fraction":0,"transfer":"icc","warnings":[]}"#,
        )
        .unwrap();
        assert_eq!(Known::of_edge("x", &edge), Err(KnownError::NoPitch));
        edge.pitch_um = Some(10.0);
        let known = Known::of_edge("x", &edge).unwrap();
        assert_eq!(known.table, [[0.0, 1.0, 0.0], [10.0, 0.8, 0.01], [20.0, 0.5, 0.02]]);
    }

    #[test]
    fn the_way_of_the_edge_chooses_among_two() {
        let known = |direction: &str| Known { name: direction.into(), direction: direction.into(), table: Vec::new() };
        let both = [known("near-vertical"), known("near-horizontal")];
        assert_eq!(Known::fitting(&both, "near-horizontal"), Some(&both[1]));
        assert_eq!(Known::fitting(&both[..1], "near-horizontal"), Some(&both[0]));
        assert_eq!(Known::fitting(&[], "near-horizontal"), None);
    }
}
