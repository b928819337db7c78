//! The catalogue against the refractiveindex.info database itself, as `checks/glasses.py` writes it out: run with
//! `CLOSEWORK_GLASSES` naming that file; without it there is nothing to compare with.

use rays::{Wavelength, catalogue_glass};
use testkit::assert_close;

#[test]
fn indices_are_the_databases() {
    let Ok(path) = std::env::var("CLOSEWORK_GLASSES") else {
        println!("left out: CLOSEWORK_GLASSES names no file (checks/glasses.py writes one)");
        return;
    };
    let text = std::fs::read_to_string(&path).unwrap_or_else(|why| panic!("{path}: {why}"));
    let mut compared = 0;
    for line in text.lines() {
        let [name, um, index] = line.split('\t').collect::<Vec<_>>()[..] else { panic!("{line}") };
        let (um, index): (f64, f64) = (um.parse().unwrap(), index.parse().unwrap());
        let ours = catalogue_glass(name).unwrap().constants.index(Wavelength::from_um(um).unwrap());
        assert_close!(ours, index, absolute = 1e-12, "{line}");
        compared += 1;
    }
    assert_eq!(compared, 12 * 11);
}
