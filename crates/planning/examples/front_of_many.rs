//! How long a front over many set-ups takes: once as kits have them, once all on the front, which is the worst.
//! `cargo run --release -p planning --example front_of_many`

use planning::{Axis, Brief, Candidate, Choice, front};
use std::time::Instant;

const MANY: usize = 20_000;

fn main() -> Result<(), planning::OutOfRange> {
    let need = Brief { largest_crop: 0.9, ..Brief::new(40.0, 0.7, [56.0, 56.0], 300.0) }.need()?;
    // The fractional parts of multiples of irrational numbers are evenly spread, and the same in every run.
    let spread = |index: usize, step: f64| (index as f64 * step).fract();
    let usual = |index: usize| Candidate {
        key: index,
        magnification: 0.98 * (0.5 + 0.5 * spread(index, 2f64.sqrt())),
        stops_lost: 4.0 * spread(index, 3f64.sqrt()),
        working_distance_mm: Some(20.0 + 300.0 * spread(index, 5f64.sqrt())),
        glass_added: index % 4,
        f_number_factor: 1.0 + spread(index, 7f64.sqrt()),
        f_numbers: [2.8, 16.0 + 16.0 * spread(index, 11f64.sqrt())],
        past_close_range: 1.0 + 5.0 * spread(index, 13f64.sqrt()),
        contrast: None,
    };
    // Whatever has more room loses more light: nobody beats anybody.
    let worst = |index: usize| {
        let place = index as f64 / MANY as f64;
        Candidate { stops_lost: 40.0 * place, working_distance_mm: Some(50_000.0 * place), ..usual(index) }
    };
    for (name, make) in [("spread", &usual as &dyn Fn(usize) -> Candidate), ("all on the front", &worst)] {
        let began = Instant::now();
        let choices = (0..MANY).map(|index| need.choice(&make(index))).collect::<Result<Vec<Choice>, _>>()?;
        let made = began.elapsed();
        let found = front(&choices, &Axis::ALL);
        println!(
            "{name}: {} of {MANY} on the front; choices {made:?}, front {:?}",
            found.members.len(),
            began.elapsed() - made
        );
    }
    Ok(())
}
