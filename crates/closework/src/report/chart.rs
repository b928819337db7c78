//! Curves over two axes, drawn in grey with a line style of its own for each.

use printing::{Grey, Page, Pen, Place, Role, Shape, Style};

use super::model::{Figure, WIDTH_MM};
use crate::web::fmt;

/// A curve with its name.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// In the legend.
    pub name: String,
    /// From left to right.
    pub points: Vec<(f64, f64)>,
}

/// A chart before it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// Below it.
    pub caption: String,
    /// What it shows, for those who cannot see it.
    pub words: String,
    /// Names of the axes with their units.
    pub axes: [String; 2],
    /// Where the axes end; both begin at 0.
    pub ends: [f64; 2],
    /// The curves.
    pub curves: Vec<Curve>,
    /// A wanted point, with what it says: "wanted: 0.3 at 13 lp/mm".
    pub wanted: Option<(f64, f64, String)>,
}

/// More curves than this cannot be told apart in grey.
pub(super) const MOST: usize = 8;

/// Line styles that differ in grey print: width (mm), grey, ink and gap (mm).
const STYLES: [(f64, u8, Option<[f64; 2]>); MOST] = [
    (0.55, 0, None),
    (0.45, 0, Some([2.4, 1.0])),
    (0.55, 0, Some([0.5, 0.9])),
    (0.80, 150, None),
    (0.80, 120, Some([3.4, 1.2])),
    (0.30, 0, None),
    (0.30, 0, Some([5.0, 0.8])),
    (0.90, 130, Some([0.8, 1.2])),
];

fn pen(index: usize) -> Pen {
    let (width_mm, grey, dash_mm) = STYLES[index % STYLES.len()];
    Pen { width_mm, grey: Grey(grey), dash_mm }
}

const LETTERS: Style = Style::plain(7.5);
const LEFT: f64 = 14.0;
const RIGHT: f64 = 4.0;
const TOP: f64 = 3.0;
const HIGH: f64 = 62.0;
/// From the axis to the legend, and from line to line in it.
const BELOW: f64 = 11.0;
const LEGEND_LINE: f64 = 4.2;

impl Chart {
    /// Draws it.
    pub fn draw(&self) -> Figure {
        let (columns, rows) = self.legend_grid();
        let height = TOP + HIGH + BELOW + rows as f64 * LEGEND_LINE;
        let mut page = Page::new([WIDTH_MM, height]);
        let block = page.block(Role::Drawing(self.words.clone()));
        self.grid(block);
        for (index, curve) in self.curves.iter().enumerate() {
            for run in self.inside(&curve.points) {
                block.line(run, pen(index));
            }
        }
        self.want(block);
        self.legend(block, columns);
        let shapes = page.blocks.into_iter().flat_map(|block| block.shapes).collect();
        Figure { size_mm: [WIDTH_MM, height], words: self.words.clone(), caption: self.caption.clone(), shapes }
    }

    fn place(&self, x: f64, y: f64) -> Place {
        let across = (WIDTH_MM - LEFT - RIGHT) * (x / self.ends[0]).clamp(0.0, 1.0);
        [LEFT + across, TOP + HIGH * (1.0 - (y / self.ends[1]).clamp(0.0, 1.0))]
    }

    /// The runs of a curve that lie within the axes.
    fn inside(&self, points: &[(f64, f64)]) -> Vec<Vec<Place>> {
        let there = |p: &(f64, f64)| p.0.is_finite() && p.1.is_finite() && p.0 <= self.ends[0] * (1.0 + 1e-9);
        let runs = points.split(|p| !there(p)).filter(|run| run.len() > 1);
        runs.map(|run| run.iter().map(|(x, y)| self.place(*x, *y)).collect()).collect()
    }

    fn grid(&self, block: &mut printing::Block) {
        let [[left, bottom], [right, top]] = [self.place(0.0, 0.0), self.place(self.ends[0], self.ends[1])];
        let hair = Pen::solid(0.1, Grey(190));
        for tick in ticks(self.ends[0]) {
            let [x, _] = self.place(tick, 0.0);
            block.line([[x, top], [x, bottom + 1.0]], hair);
            block.words_about([x, bottom + 3.2], &round(tick), LETTERS);
        }
        for tick in ticks(self.ends[1]) {
            let [_, y] = self.place(0.0, tick);
            block.line([[left - 1.0, y], [right, y]], hair);
            let text = round(tick);
            block.words([left - 1.8 - LETTERS.width_mm(&text), y + 1.0], text, LETTERS);
        }
        block.line([[left, top], [left, bottom], [right, bottom]], Pen::solid(0.3, Grey::BLACK));
        let x_name = &self.axes[0];
        block.words([right - LETTERS.width_mm(x_name), bottom + 7.0], x_name.clone(), LETTERS);
        block.shapes.push(Shape::Words(printing::Words {
            at: [3.0, top + (HIGH + LETTERS.width_mm(&self.axes[1])) / 2.0],
            text: self.axes[1].clone(),
            style: LETTERS,
            upwards: true,
        }));
    }

    /// The wanted point as a cross with its words beside it.
    fn want(&self, block: &mut printing::Block) {
        let Some((x, y, words)) = &self.wanted else { return };
        if *x > self.ends[0] || *y > self.ends[1] {
            return;
        }
        let [cx, cy] = self.place(*x, *y);
        let bold = Pen::solid(0.6, Grey::BLACK);
        block.line([[cx - 2.0, cy - 2.0], [cx + 2.0, cy + 2.0]], bold);
        block.line([[cx - 2.0, cy + 2.0], [cx + 2.0, cy - 2.0]], bold);
        let style = Style::bold(7.5);
        let wide = style.width_mm(words);
        let at = if cx + 4.0 + wide < WIDTH_MM - RIGHT { cx + 3.2 } else { cx - 3.2 - wide };
        block.rectangle([at - 0.4, cy - 3.9], [wide + 0.8, 3.4], Grey::PAPER);
        block.words([at, cy - 1.2], words.clone(), style);
    }

    fn legend_grid(&self) -> (usize, usize) {
        let widest = self.curves.iter().map(|curve| LETTERS.width_mm(&curve.name)).fold(0.0, f64::max) + 16.0;
        let columns = (((WIDTH_MM - LEFT) / widest) as usize).clamp(1, 3);
        (columns, self.curves.len().div_ceil(columns))
    }

    fn legend(&self, block: &mut printing::Block, columns: usize) {
        let wide = (WIDTH_MM - LEFT) / columns as f64;
        for (index, curve) in self.curves.iter().enumerate() {
            let (column, row) = (index % columns, index / columns);
            let (x, y) = (LEFT + column as f64 * wide, TOP + HIGH + BELOW + (row as f64 + 0.4) * LEGEND_LINE);
            block.line([[x, y], [x + 11.0, y]], pen(index));
            block.words([x + 13.0, y + 1.0], curve.name.clone(), LETTERS);
        }
    }
}

/// A round figure without noughts that say nothing: 5, 0.2.
pub(super) fn round(tick: f64) -> String {
    let text = fmt::figure(tick, 3);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Round figures up to an end: 1, 2 or 5 times a power of ten apart, at most ten of them.
pub(super) fn ticks(end: f64) -> Vec<f64> {
    if !(end.is_finite() && end > 0.0) {
        return Vec::new();
    }
    let rough = end / 8.0;
    let ten = 10f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|k| k * ten).find(|step| *step >= rough).unwrap_or(ten);
    (0..=(end / step * (1.0 + 1e-9)) as usize).map(|i| i as f64 * step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    fn chart() -> Chart {
        let curve =
            |name: &str, high: f64| Curve { name: name.into(), points: vec![(0.0, 1.0), (10.0, high), (30.0, 0.1)] };
        Chart {
            caption: "c".into(),
            words: "Two curves.".into(),
            axes: ["Fineness, lp/mm".into(), "Contrast left".into()],
            ends: [20.0, 1.2],
            curves: vec![curve("a", 0.6), curve("b", 0.4)],
            wanted: Some((13.0, 0.3, "wanted".into())),
        }
    }

    #[test]
    fn curves_differ_without_colour_and_stay_inside() {
        let figure = chart().draw();
        let [width, height] = figure.size_mm;
        let mut dashes = Vec::new();
        for shape in &figure.shapes {
            if let Shape::Line { points, pen, .. } = shape {
                assert!(points.iter().all(|[x, y]| (0.0..=width).contains(x) && (0.0..=height).contains(y)));
                dashes.push((pen.dash_mm, pen.grey));
            }
        }
        assert!(dashes.contains(&(None, Grey(0))) && dashes.contains(&(Some([2.4, 1.0]), Grey(0))));
        let differ = |a: usize, b: usize| pen(a) != pen(b);
        assert!((0..STYLES.len()).all(|a| (0..a).all(|b| differ(a, b))));
    }

    #[test]
    fn figures_on_the_axis_are_round() {
        assert_eq!(ticks(1.2), [0.0, 0.2, 0.4, 0.6000000000000001, 0.8, 1.0, 1.2000000000000002]);
        assert_eq!(ticks(40.0).last(), Some(&40.0));
        assert!(ticks(0.0).is_empty() && ticks(f64::NAN).is_empty());
        // A tenth of the width of 152 mm behind the axis at 14 mm.
        assert_close!(chart().place(2.0, 0.0)[0], 14.0 + 15.2, absolute = 1e-9);
    }
}
