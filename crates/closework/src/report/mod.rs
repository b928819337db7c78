//! A job as a report: one PDF and one self-contained page, with the figures behind them as CSV and JSON.
//!
//! [`read`] takes everything from the notebook, [`build`] makes a [`Report`] of it that knows neither pages nor tags, and two back
//! ends set it: on paper through `printing`, and as HTML that needs nothing beside it. Absent: pages of the program, the date (it
//! is handed in), figures of its own: what is judged comes from the verdict's document, what is drawn from the measurements.

mod chart;
mod html;
mod material;
mod measured;
mod model;
mod pdf;
mod pictures;
mod predicted;
mod sections;
mod tables;
mod trials;

pub use material::{Material, ReportTrouble, read};
pub use model::{Figure, Item, Report, Section, Table};

use printing::Date;

/// The four files of a report.
#[derive(Debug, Clone, PartialEq)]
pub struct Files {
    /// On paper.
    pub pdf: Vec<u8>,
    /// For a browser.
    pub html: String,
    /// The figures as a table.
    pub csv: Vec<u8>,
    /// Everything.
    pub json: String,
}

/// The report of a job. `heard` is told the share done, 0 to 1, and says whether to go on.
pub fn build(m: &Material, date: Option<Date>, heard: &(dyn Fn(f64) -> bool + Sync)) -> Result<Report, ReportTrouble> {
    let mut sections = vec![sections::question(m), sections::answer(m)];
    sections.extend(predicted::predicted(m));
    sections.extend(sections::lacking(m));
    sections.extend([sections::kit(m), sections::planned(m), sections::frames(m)]);
    sections.push(pictures::pictures(m, heard)?);
    sections.extend([measured::sharpness(m), measured::figures(m)]);
    sections.extend(trials::trials(m));
    sections.extend([sections::cautions(), sections::method(), sections::settings(m)]);
    let lead = match m.verdict.sentences.first() {
        Some(said) => said.text.clone(),
        None => "Nothing can be decided yet: what is missing, and what to do, is said below.".into(),
    };
    let mut report = Report { title: m.job.title.clone(), lead, date, sections };
    drop_lost_links(&mut report);
    Ok(report)
}

/// A link to a section that this report does not have becomes a sentence.
fn drop_lost_links(report: &mut Report) {
    let mut names: Vec<String> = report.sections.iter().map(|section| section.id.clone()).collect();
    for item in report.sections.iter().flat_map(|section| &section.items) {
        if let Item::Heading { id, .. } = item {
            names.push(id.clone());
        }
    }
    for item in report.sections.iter_mut().flat_map(|section| &mut section.items) {
        if let Item::Link { text, to } = item
            && to.strip_prefix('#').is_some_and(|name| !names.iter().any(|known| known == name))
        {
            *item = Item::Note(std::mem::take(text));
        }
    }
}

/// All files of a job's report.
pub fn files(m: &Material, date: Option<Date>, heard: &(dyn Fn(f64) -> bool + Sync)) -> Result<Files, ReportTrouble> {
    let report = build(m, date, &|share| heard(0.7 * share))?;
    let html = html::to_html(&report);
    if !heard(0.8) {
        return Err(ReportTrouble::Stopped);
    }
    let pdf = pdf::to_pdf(&report)?;
    Ok(Files { pdf, html, csv: tables::csv(m)?, json: tables::json(m, date.map(|date| date.to_string()))? })
}

/// The name of the files without their endings: "report-job-3".
pub fn file_stem(job: notebook::JobId) -> String {
    format!("report-job-{job}")
}

#[cfg(test)]
mod tests;
