//! Tables as they are typed and pasted: read, or refused by line.

use rays::{Medium, Prescription, PrescriptionError, Table, TableError, Wavelength, form};
use testkit::assert_close;

/// US 2,673,491 as it would be typed.
const DOUBLE_GAUSS: &str = "
R       d      n        V     semi
29.475  3.76   1.67125  47.1  12.6
84.83   .12    air      -     12.6
19.275  4.025  1.67125  47.1  11.5
40.77   3.275  1.69842  30.1  11.5
12.75   5.705  air      9      # the stop follows
stop    4.5    air      8.55
-14.495 1.18   1.60266  38.4  8.5
40.77   6.065  1.65953  57.0  10
-20.385 0.19   1.0      -     10
437.065 3.22   1.71740  48.1  10
-39.73  35.718 air      10
";

fn read(text: &str) -> Table {
    Prescription::read(text).unwrap_or_else(|refusal| panic!("{refusal}"))
}

fn refused(text: &str) -> TableError {
    Prescription::read(text).expect_err("refused")
}

#[test]
fn a_typed_table_is_the_form_of_the_library() {
    let table = read(DOUBLE_GAUSS);
    assert_eq!(table.lens, form("double-gauss-1954").unwrap().prescription());
    assert_eq!(table.printed_back_focus_mm, Some(35.718));
}

/// A comma for a point, tabs, semicolons, bars, comma-separated values, a true minus sign: the same lens.
#[test]
fn tables_come_in_many_spellings() {
    let plain = read("50 4 1.5168 64.17\n-50.5 - air").lens;
    for text in [
        "50\t4\t1,5168\t64,17\n−50,5\t–\tair",
        "50;4;1,5168;64,17\r\n-50,5;-;AIR\r\n",
        "| 50 | 4 | 1.5168 | 64.17 |\n| -50.5 | - | air |",
        "50,4,1.5168,64.17\n-50.5,-,1",
        "50, 4, 1.5168, 64.17\n-50.5",
        "r, d, n, V\n# from a patent\n\n50 4 1.5168 64.17 # front\n-50.5",
    ] {
        assert_eq!(read(text).lens, plain, "{text}");
    }
}

#[test]
fn named_glass_planes_stops_and_aspheres_are_read() {
    let table = read("inf 3 n-bk7 - 12 stop\n-40 2 F2 11 k=-1.5 a4=1e-6 a6=-2e-9\n0 2 1.6 -\n-90");
    let rows = table.lens.rows();
    assert_close!(rows[0].after.index(Wavelength::D), 1.5168, absolute = 1e-6);
    assert_eq!((rows[0].surface.curvature, rows[0].semi_aperture_mm, rows[0].stop), (0.0, Some(12.0), true));
    assert_eq!((rows[1].surface.conic, rows[1].semi_aperture_mm), (-1.5, Some(11.0)));
    assert_eq!(rows[1].surface.asphere[..3], [1e-6, -2e-9, 0.0]);
}

#[test]
fn a_stop_lies_in_what_lies_before_it() {
    let table = read("50 4 1.5168 64.17\nstop 2\n-50.5");
    assert_eq!(table.lens.rows()[1].after, Medium::patent(1.5168, 64.17));
    assert!(table.lens.rows()[1].stop);
    assert_eq!(read("50 4 1.62 -\n-50").lens.rows()[0].after, Medium::Constant(1.62));
}

#[test]
fn bad_tables_are_refused_by_line() {
    assert_eq!(refused(""), TableError::Empty);
    assert_eq!(refused("radius gap glass\n"), TableError::Empty);
    assert_eq!(refused(&"50 4 1.5 60\n".repeat(101)), TableError::TooLong);
    let word = |text: &str| (refused(text).to_string(), refused(text));
    let (said, why) = word("50 4 1.5168 64\n-5o.5");
    assert!(matches!(why, TableError::NoNumber { line: 2, what: "the radius", .. }) && said.contains("“-5o.5”"));
    assert!(matches!(refused("50 thick 1.5 60\n-50"), TableError::NoNumber { line: 1, what: "the gap", .. }));
    assert!(matches!(refused("50 4 1.5 x\n-50"), TableError::NoNumber { line: 1, what: "V", .. }));
    assert!(matches!(refused("50 4 1.5 60 wide\n-50"), TableError::NoNumber { line: 1, .. }));
    assert!(matches!(refused("50 4 1.5 60 k=x\n-50"), TableError::NoNumber { line: 1, .. }));
    assert_eq!(refused("# lens\n50 - 1.5 60\n-50"), TableError::Missing { line: 2, what: "gap" });
    assert_eq!(refused("50\n-50"), TableError::Missing { line: 1, what: "gap" });
    assert_eq!(refused("50 4\n-50"), TableError::Missing { line: 1, what: "glass" });
    let unknown = refused("50 4 N-BK77\n-50");
    assert_eq!(unknown, TableError::UnknownGlass { line: 1, name: "N-BK77".into() });
    for text in ["50 4 1.5 60 12 13\n-50", "50 4 1.5 60 a5=1\n-50", "50 4 1.5 60 a20=1\n-50", "50 4 1.5 60 b=1\n-50"] {
        assert!(matches!(refused(text), TableError::UnknownWord { line: 1, .. }), "{text}");
    }
}

/// What makes no lens is refused with the line of its surface: glass below 1, no V, surfaces that cross, a stop outside its gap,
/// two stops, a rim beyond the surface.
#[test]
fn tables_that_make_no_lens_are_refused_by_line() {
    let of = |text: &str| match refused(text) {
        TableError::Lens { line, why } => (line, why),
        other => panic!("{other}"),
    };
    assert!(matches!(of("# a\n50 4 0.9 60\n-50"), (2, PrescriptionError::Index { row: 1, .. })));
    assert!(matches!(of("50 4 1.5 0\n-50"), (1, PrescriptionError::Abbe { .. })));
    assert!(matches!(
        of("50 4 1.5 60\n\n-50 -1 air\n30 2 1.6 40\n90"),
        (3, PrescriptionError::Crossing { row: 2, .. })
    ));
    assert!(matches!(of("50 1 1.5 60 20\n-50 - air 20"), (1, PrescriptionError::Crossing { row: 1, .. })));
    assert!(matches!(of("50 4 1.5 60\nstop -3 air\n-50"), (2, PrescriptionError::Crossing { .. })));
    assert!(matches!(of("stop 4 air\n50 4 1.5 60\nstop 1\n-50"), (3, PrescriptionError::TwoStops { .. })));
    assert!(matches!(of("20 40 1.5 60 21\n-50"), (1, PrescriptionError::BeyondSurface { .. })));
    assert!(matches!(of("20 40 1.5 60 -1\n-50"), (1, PrescriptionError::Aperture { .. })));
}
