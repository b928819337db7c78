//! Printed cards, read by programs that share nothing with what wrote them: lengths, white, codes, words.
//!
//! The readers are poppler's (pdfinfo, pdftoppm, pdftocairo, pdftotext) and zbarimg; where one is missing the test says so and
//! passes. `./test` installs them.

use printing::card::CHECK_MM;
use printing::{Date, Printed, print};
use std::path::{Path, PathBuf};
use std::process::Command;
use target::{Card, Identity, Paper, Sheet};
use testkit::assert_close;

const FIELDS: [[f64; 2]; 8] = [
    [15.0, 15.0],
    [23.0, 23.0],
    [56.0, 56.0],
    [60.0, 60.0],
    [120.0, 120.0],
    [180.0, 180.0],
    [180.0, 61.0],
    [300.0, 240.0],
];

struct Case {
    card: Card,
    paper: Paper,
    printed: Printed,
    pdf: PathBuf,
    folder: tempfile::TempDir,
}

fn cases() -> impl Iterator<Item = Case> {
    let papers = [Paper::A4, Paper::Letter];
    FIELDS.into_iter().flat_map(move |field| papers.map(|paper| case(field, paper)))
}

fn case(field: [f64; 2], paper: Paper) -> Case {
    let card = Card::new(field, Identity::from_number(31_415_926)).expect("lies in range");
    let printed = print(&card, paper, Some(Date { year: 2026, month: 11, day: 25 }));
    let folder = tempfile::tempdir().expect("a folder");
    let pdf = folder.path().join("card.pdf");
    std::fs::write(&pdf, printed.document.to_pdf().expect("can be written")).expect("disk");
    Case { card, paper, printed, pdf, folder }
}

/// The program's standard output, or nothing where it is not installed.
fn run(program: &str, arguments: &[&str]) -> Option<Vec<u8>> {
    match Command::new(program).args(arguments).output() {
        Ok(done) => {
            assert!(done.status.success(), "{program} {arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
            Some(done.stdout)
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            eprintln!("{program} is not on this machine: not checked with it (Debian: poppler-utils, zbar-tools)");
            None
        }
        Err(error) => panic!("{program}: {error}"),
    }
}

/// Part of a page as grey samples.
struct Raster {
    dpi: f64,
    from: [usize; 2],
    width: usize,
    height: usize,
    samples: Vec<u8>,
}

impl Raster {
    /// `window` is left, top, width, height in mm on the page.
    fn of(pdf: &Path, page: usize, dpi: f64, window: [f64; 4]) -> Option<Self> {
        let px = |mm: f64| (mm * dpi / 25.4).round().max(0.0) as usize;
        let from = [px(window[0]), px(window[1])];
        let words = [page, page, from[0], from[1], px(window[2]), px(window[3])].map(|n| n.to_string());
        let [first, last, x, y, w, h] = words.each_ref().map(String::as_str);
        let (dpi_word, pdf) = (dpi.to_string(), pdf.to_str().expect("plain path"));
        let arguments = ["-gray", "-r", &dpi_word, "-f", first, "-l", last, "-x", x, "-y", y, "-W", w, "-H", h, pdf];
        let bytes = run("pdftoppm", &arguments)?;
        // Netpbm's P5: magic, width, height, largest value, each ended by white space.
        let mut at = 0;
        let mut number = || {
            while bytes[at].is_ascii_whitespace() {
                at += 1;
            }
            let start = at;
            while !bytes[at].is_ascii_whitespace() {
                at += 1;
            }
            String::from_utf8_lossy(&bytes[start..at]).into_owned()
        };
        assert_eq!(number(), "P5");
        let [width, height]: [usize; 2] = [number(), number()].map(|word| word.parse().expect("a number"));
        assert_eq!(number(), "255");
        let samples = bytes[at + 1..].to_vec();
        assert_eq!(samples.len(), width * height);
        Some(Self { dpi, from, width, height, samples })
    }

    /// Those within a square window about a place.
    fn near(&self, centre: [f64; 2], reach: f64) -> impl Iterator<Item = ([f64; 2], u8)> {
        let px = |axis: usize, mm: f64| ((mm * self.dpi / 25.4) as usize).saturating_sub(self.from[axis]);
        let (left, right) = (px(0, centre[0] - reach), px(0, centre[0] + reach).min(self.width));
        let (top, bottom) = (px(1, centre[1] - reach), px(1, centre[1] + reach).min(self.height));
        let mm = |px: usize, from: usize| ((px + from) as f64 + 0.5) * 25.4 / self.dpi;
        (top..bottom)
            .flat_map(move |y| (left..right).map(move |x| (x, y)))
            .map(move |(x, y)| ([mm(x, self.from[0]), mm(y, self.from[1])], self.samples[y * self.width + x]))
    }

    /// Each sample with its middle, mm on the page.
    fn each(&self) -> impl Iterator<Item = ([f64; 2], u8)> {
        let mm = |px: usize, from: usize| ((px + from) as f64 + 0.5) * 25.4 / self.dpi;
        self.samples.iter().enumerate().map(move |(index, value)| {
            ([mm(index % self.width, self.from[0]), mm(index / self.width, self.from[1])], *value)
        })
    }
}

#[test]
fn pages_have_the_papers_size_and_are_tagged() {
    for case in cases() {
        let Some(out) = run("pdfinfo", &["-l", "99", case.pdf.to_str().expect("plain path")]) else { return };
        let text = String::from_utf8_lossy(&out).into_owned();
        // ISO 216; 8½ × 11 inches of 72 points.
        let wanted = if case.paper == Paper::A4 { [595.275_59, 841.889_76] } else { [612.0, 792.0] };
        let sizes: Vec<_> = text.lines().filter(|line| line.starts_with("Page ") && line.contains(" size:")).collect();
        assert_eq!(sizes.len(), case.printed.document.pages.len());
        for line in sizes {
            let numbers: Vec<f64> = line.split_whitespace().filter_map(|word| word.parse().ok()).collect();
            // pdfinfo writes six digits; the first number is that of the page.
            assert_close!(numbers[1], wanted[0], absolute = 0.001);
            assert_close!(numbers[2], wanted[1], absolute = 0.01);
        }
        assert!(text.contains("Tagged:          yes") && text.contains("Target card for a field of"));
    }
    let case = case([60.0, 60.0], Paper::A4);
    let Some(out) = run("pdfinfo", &["-struct-text", case.pdf.to_str().expect("plain path")]) else { return };
    let text = String::from_utf8_lossy(&out).into_owned();
    assert!(
        text.contains("H1") && text.contains("H2") && text.contains("Figure") && text.contains("P (block)"),
        "{text}"
    );
}

#[test]
fn the_line_to_measure_is_100_mm_long() {
    for case in cases() {
        for placed in &case.printed.placed {
            let [x, y] = placed.check_mm;
            // Only the end marks reach a millimetre above the line.
            let window = [x - 1.0, y - 1.5, CHECK_MM + 2.0, 0.8];
            let Some(raster) = Raster::of(&case.pdf, placed.page, 1200.0, window) else { return };
            let centre = |from: f64| {
                let near = raster.each().filter(|([at, _], _)| (at - from).abs() < 1.0);
                let (sum, ink) = near.fold((0.0, 0.0), |(sum, ink), ([at, _], value)| {
                    let dark = f64::from(255 - value);
                    (sum + dark * at, ink + dark)
                });
                assert!(ink > 0.0, "no mark at {from} mm");
                sum / ink
            };
            assert_close!(centre(x + CHECK_MM) - centre(x), 100.0, absolute = 0.05);
        }
    }
}

/// Closed outlines with four corners that are filled, mm on the page, from pdftocairo's SVG.
fn quadrangles(svg: &str) -> Vec<[[f64; 2]; 4]> {
    let mut found = Vec::new();
    for d in svg.split(" d=\"").skip(1).filter_map(|rest| rest.split('"').next()) {
        for outline in d.split('M').skip(1) {
            let numbers: Vec<f64> = outline.split([' ', 'L', 'Z']).filter_map(|word| word.parse().ok()).collect();
            if numbers.len() >= 8 {
                let mm = |index: usize| [numbers[2 * index], numbers[2 * index + 1]].map(|pt| pt * 25.4 / 72.0);
                found.push([mm(0), mm(1), mm(2), mm(3)]);
            }
        }
    }
    found
}

#[test]
fn squares_lie_where_the_layout_says() {
    for case in cases() {
        for (sheet, placed) in case.card.sheets.iter().zip(&case.printed.placed) {
            let page = placed.page.to_string();
            let svg = case.folder.path().join("page.svg");
            let arguments = [
                "-svg",
                "-noshrink",
                "-nocenter",
                "-f",
                &page,
                "-l",
                &page,
                case.pdf.to_str().expect("plain"),
                svg.to_str().expect("plain"),
            ];
            if run("pdftocairo", &arguments).is_none() {
                return;
            }
            let drawn = quadrangles(&std::fs::read_to_string(&svg).expect("was written"));
            for square in sheet.squares() {
                let wanted = square.corners().map(|corner| on_page(corner, placed.middle_mm));
                let worst = |drawn: &[[f64; 2]; 4]| {
                    let apart = |a: &[f64; 2], b: &[f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
                    wanted
                        .iter()
                        .map(|w| drawn.iter().map(|d| apart(w, d)).fold(f64::MAX, f64::min))
                        .fold(0.0, f64::max)
                };
                let nearest = drawn.iter().map(worst).fold(f64::MAX, f64::min);
                assert_close!(nearest, 0.0, absolute = 0.03);
            }
        }
    }
}

fn on_page(place: [f64; 2], middle: [f64; 2]) -> [f64; 2] {
    [place[0] + middle[0], place[1] + middle[1]]
}

fn window(sheet: &Sheet, middle: [f64; 2], beyond: f64) -> [f64; 4] {
    let [w, h] = sheet.size_mm.map(|side| side + 2.0 * beyond);
    [middle[0] - w / 2.0, middle[1] - h / 2.0, w, h]
}

#[test]
fn squares_are_black_and_nothing_is_printed_in_the_white_round_them() {
    for case in cases() {
        for (sheet, placed) in case.card.sheets.iter().zip(&case.printed.placed) {
            let dpi = if sheet.size_mm[0] < 30.0 { 1200.0 } else { 400.0 };
            let Some(raster) = Raster::of(&case.pdf, placed.page, dpi, window(sheet, placed.middle_mm, 3.0)) else {
                return;
            };
            let pixel = 25.4 / dpi;
            for square in sheet.squares() {
                let centre = on_page(square.centre, placed.middle_mm);
                let (sin, cos) = square.turn_deg.to_radians().sin_cos();
                let half = square.side_mm / 2.0;
                let mut seen = [0, 0];
                let reach = half * 1.5 + square.free_mm + 1.0;
                for ([x, y], value) in raster.near(centre, reach) {
                    let [dx, dy] = [x - centre[0], y - centre[1]];
                    let (u, v) = ((dx * cos + dy * sin).abs(), (dy * cos - dx * sin).abs());
                    let out = (u - half).max(0.0).hypot((v - half).max(0.0));
                    if u.max(v) < half - 2.0 * pixel {
                        assert!(value < 20, "{} is not black at {dx}, {dy}", square.name);
                        seen[0] += 1;
                    } else if out > 2.0 * pixel && out < square.free_mm - pixel {
                        // Past the end of an edge the layout itself lets a ruler's tick come near; nothing else may.
                        let beside = u.min(v) < 0.8 * half;
                        let tick = !beside && in_ruler(sheet, [x - placed.middle_mm[0], y - placed.middle_mm[1]]);
                        assert!(
                            value > 250 || tick,
                            "ink beside “{}” of {:?} at {dx}, {dy}",
                            square.name,
                            sheet.size_mm
                        );
                        seen[1] += 1;
                    }
                }
                assert!(seen[0] > 50 && seen[1] > 20, "too few samples: {seen:?}");
            }
        }
    }
}

fn in_ruler(sheet: &Sheet, [x, y]: [f64; 2]) -> bool {
    sheet.rulers().any(|ruler| {
        let [dx, dy] = [0.5, ruler.lengths_mm[2] / 2.0 + 0.1];
        let [dx, dy] = if ruler.name == "level" { [dx, dy] } else { [dy, dx] };
        let [[ax, ay], [bx, by]] = [ruler.first, ruler.last];
        x > ax - dx && x < bx + dx && y > ay - dy && y < by + dy
    })
}

#[test]
fn codes_are_read_by_a_second_decoder() {
    for case in cases() {
        for (sheet, placed) in case.card.sheets.iter().zip(&case.printed.placed) {
            // Six pixels a module.
            let module_mm = sheet.codes().next().expect("has codes").side_mm / 21.0;
            let dpi = (6.0 * 25.4 / module_mm).round();
            let Some(raster) = Raster::of(&case.pdf, placed.page, dpi, window(sheet, placed.middle_mm, 2.0)) else {
                return;
            };
            let picture = case.folder.path().join("sheet.pgm");
            let mut bytes = format!("P5 {} {} 255\n", raster.width, raster.height).into_bytes();
            bytes.extend_from_slice(&raster.samples);
            std::fs::write(&picture, bytes).expect("disk");
            let Some(out) = run("zbarimg", &["-q", "--raw", picture.to_str().expect("plain")]) else { return };
            let mut read: Vec<String> = String::from_utf8_lossy(&out).lines().map(str::to_owned).collect();
            let mut wanted: Vec<String> = sheet.codes().map(|code| code.text.text()).collect();
            read.sort();
            wanted.sort();
            assert_eq!(read, wanted, "{:?} on {:?}", sheet.size_mm, case.paper);
        }
    }
}

#[test]
fn grey_steps_are_printed_as_their_reflectance_says() {
    let case = case([120.0, 120.0], Paper::A4);
    let (sheet, placed) = (&case.card.sheets[0], &case.printed.placed[0]);
    let Some(raster) = Raster::of(&case.pdf, placed.page, 150.0, window(sheet, placed.middle_mm, 0.0)) else { return };
    for step in sheet.steps() {
        let [x, y] = on_page(step.centre, placed.middle_mm);
        let at = |([px, py], _): &([f64; 2], u8)| (px - x).abs() < 1.0 && (py - y).abs() < 1.0;
        let inside: Vec<f64> = raster.each().filter(at).map(|(_, value)| f64::from(value)).collect();
        let mean = inside.iter().sum::<f64>() / inside.len() as f64;
        // Decoded by IEC 61966-2-1; a step of the 8-bit code is at most 1.5 % of the light here.
        let light = ((mean / 255.0 + 0.055) / 1.055).powf(2.4);
        assert_close!(light * 0.85, step.reflectance, relative = 0.02);
    }
}

#[test]
fn strips_carry_the_layouts_bars() {
    let case = case([120.0, 120.0], Paper::Letter);
    let placed = &case.printed.placed[0];
    let ramp = case.card.sheets[0].ramps().next().expect("large enough for ramps");
    let page = placed.strips_page.expect("has strips").to_string();
    let svg = case.folder.path().join("strips.svg");
    let arguments = [
        "-svg",
        "-noshrink",
        "-nocenter",
        "-f",
        &page,
        "-l",
        &page,
        case.pdf.to_str().expect("plain"),
        svg.to_str().expect("plain"),
    ];
    if run("pdftocairo", &arguments).is_none() {
        return;
    }
    let drawn = quadrangles(&std::fs::read_to_string(&svg).expect("was written"));
    let spans = |four: &[[f64; 2]; 4], axis: usize| {
        let along = four.map(|corner| corner[axis]);
        (along.into_iter().fold(f64::MAX, f64::min), along.into_iter().fold(f64::MIN, f64::max))
    };
    // Upright bars as wide as half a period.
    let mut bars: Vec<(f64, f64)> = drawn
        .iter()
        .filter(|four| {
            let ((l, r), (t, b)) = (spans(four, 0), spans(four, 1));
            (r - l - ramp.bar_mm / 2.0).abs() < 0.01 && (b - t) > 5.0
        })
        .map(|four| ((spans(four, 0).0 + spans(four, 0).1) / 2.0, spans(four, 1).0))
        .collect();
    assert_eq!(bars.len(), 4 * ramp.bars().len());
    bars.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.total_cmp(&b.0)));
    let mut first: Vec<f64> = bars.iter().take(ramp.bars().len()).map(|bar| bar.0).collect();
    first.sort_by(f64::total_cmp);
    for (drawn, wanted) in first.iter().zip(ramp.bars()) {
        assert_close!(drawn - first[0], wanted - ramp.bars()[0], absolute = 0.01);
    }
}

#[test]
fn the_words_can_be_taken_out() {
    for case in cases() {
        let Some(out) = run("pdftotext", &["-raw", case.pdf.to_str().expect("plain"), "-"]) else { return };
        let text = String::from_utf8_lossy(&out).split_whitespace().collect::<Vec<_>>().join(" ");
        let mut wanted = vec![
            "Print at 100 %, no fitting. This line must measure 100.0 mm".to_owned(),
            "type what it measures".into(),
            "keep them from children".into(),
            "Local rules and the makers’ instructions come first".into(),
            "rise over about 0.05 mm".into(),
            format!("{:.1} × {:.1} mm", case.card.field_mm[0], case.card.field_mm[1]),
            case.card.sheets[0].identity.to_string(),
            "2026-11-25".into(),
            // sin 1° = 0.017452 (Bronstein's tables), times half the longer side.
            format!("{:.2} mm nearer", case.card.field_mm[0] / 2.0 * 0.017_452_4),
        ];
        let short = case.card.field_mm[0].min(case.card.field_mm[1]);
        wanted.push(if short < 60.0 { "printed greys are coarser" } else { "leg stands upright" }.into());
        if let Some(ramp) = case.card.sheets[0].ramps().next() {
            // At 45° the ramp is as high as its window is long; the mark lies half-way up.
            wanted.push(format!("at least {:.1} mm thick", ramp.length_mm / 2.0));
        }
        if case.card.sheets.len() > 1 {
            wanted.push("so that its outer corner is the field’s bottom right corner".into());
        }
        for words in wanted {
            assert!(text.contains(&words), "“{words}” is not in {text}");
        }
    }
}

#[test]
fn nothing_is_printed_where_printers_cannot() {
    for case in cases() {
        for (number, page) in case.printed.document.pages.iter().enumerate() {
            let [w, h] = page.size_mm;
            let Some(raster) = Raster::of(&case.pdf, number + 1, 100.0, [0.0, 0.0, w, h]) else { return };
            let border = Paper::BORDER_MM - 0.3;
            let ink = raster.each().find(|([x, y], value)| {
                (*x < border || *y < border || w - x < border || h - y < border) && *value < 250
            });
            assert_eq!(ink, None, "page {} of {:?}", number + 1, case.card.field_mm);
            assert!(raster.each().any(|(_, value)| value < 100), "an empty page");
        }
    }
}
