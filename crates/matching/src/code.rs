//! By what the frame itself says: the card's print and the magnification measured on it.

use crate::facts::{Film, Fit, Scan, fit, measured};
use crate::{MOST_CANDIDATES, Proposal, Proposals, Reason, Sureness};

/// Proposes frames by their measured magnification and by the print of the card, where a frame's words name one.
pub fn by_code(film: &Film, scans: &[Scan]) -> Proposals {
    let proposals: Vec<Proposal> = (0..scans.len()).map(|scan| proposal(film, &scans[scan], scan)).collect();
    let shown: Vec<usize> = proposals.iter().filter_map(|proposal| proposal.frame).collect();
    let without_scan = film.present().filter(|frame| !shown.contains(frame)).collect();
    Proposals { proposals, without_scan, ..Proposals::default() }
}

/// The one frame that a scan's magnification allows; nothing where several do, or where frames are not ruled out because
/// their own magnification is not known.
pub(crate) fn sure_by_size(film: &Film, scan: &Scan) -> Option<usize> {
    let mut left = film.present().filter(|frame| fit(scan, &film.frames[*frame]) != Some(Fit::Disagrees));
    let only = left.next().filter(|_| left.next().is_none())?;
    (fit(scan, &film.frames[only]) == Some(Fit::Agrees)).then_some(only)
}

fn proposal(film: &Film, scan: &Scan, index: usize) -> Proposal {
    let Some(size) = scan.size else { return Proposal::nothing(index, Reason::NotMeasured) };
    let known = |frame: &usize| film.frames[*frame].size.is_some();
    let not_ruled_out = film.present().filter(|frame| !known(frame)).count();
    let mut fitting: Vec<usize> = film
        .present()
        .filter(|frame| fit(scan, &film.frames[*frame]).is_some_and(|fit| fit != Fit::Disagrees))
        .collect();
    let apart = |frame: &usize| film.frames[*frame].size.map_or(f64::INFINITY, |planned| size.apart(planned));
    fitting.sort_by(|a, b| apart(a).total_cmp(&apart(b)));
    let Some(nearest) = fitting.first().copied() else {
        let nearest = film.present().filter(known).min_by(|a, b| apart(a).total_cmp(&apart(b)));
        return Proposal::nothing(index, Reason::NoneFits(nearest));
    };
    let named = named_print(film, scan, &fitting);
    let frame = named.unwrap_or(nearest);
    let mut reasons: Vec<Reason> = measured(scan, &film.frames[frame]).into_iter().collect();
    if named.is_some() {
        reasons.extend(scan.print.clone().map(Reason::Print));
    }
    let sure = sure_by_size(film, scan) == Some(frame);
    reasons.push(if sure { Reason::OnlySize } else { Reason::ManyFit(fitting.len()) });
    if not_ruled_out > 0 {
        reasons.push(Reason::NotRuledOut(not_ruled_out));
    }
    let sureness = match (sure, named) {
        (true, _) => Sureness::Sure,
        (_, Some(_)) => Sureness::Likely,
        _ if fitting.len() == 1 => Sureness::Likely,
        _ => Sureness::Open,
    };
    let candidates_in_all = fitting.len();
    fitting.retain(|one| *one != frame);
    fitting.insert(0, frame);
    fitting.truncate(MOST_CANDIDATES);
    Proposal { scan: index, frame: Some(frame), sureness, candidates: fitting, candidates_in_all, reasons }
}

/// The one frame among `fitting` whose words name the print of the card in the scan.
fn named_print(film: &Film, scan: &Scan, fitting: &[usize]) -> Option<usize> {
    let print = scan.print.as_deref()?;
    let names = |frame: &&usize| {
        let words = film.frames[**frame].words.split(|c: char| !c.is_alphanumeric());
        words.into_iter().any(|word| word.eq_ignore_ascii_case(print))
    };
    let mut named = fitting.iter().filter(names);
    named.next().copied().filter(|_| named.next().is_none())
}
