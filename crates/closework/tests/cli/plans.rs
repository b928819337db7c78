//! `closework plan`, and set-ups of every kind of part as scripts ask for them.

use crate::{Value, document, refusal};
use testkit::assert_close;

/// A drawer with one of everything, round figures.
const DRAWER: &str = r#"
[[body]]
id = "six"
frame_mm = [56, 56]
register_mm = 80
mount = "a"
shutter_s = [1, 0.5]
[[lens]]
id = "hundred"
mount = "a"
focal_length_mm = 100
max_aperture = 4
min_aperture = 32
pupil_ratio = 1
principal_separation_mm = 0
length_mm = 60
thread_mm = 58
max_magnification = 0.2
[[lens]]
id = "fifty"
mount = "a"
focal_length_mm = 50
max_aperture = 2.8
pupil_ratio = 1
principal_separation_mm = 0
length_mm = 40
thread_mm = 58
[[tube]]
id = "tube-50"
mount = "a"
length_mm = 50
[[bellows]]
id = "bellows"
mount = "a"
draw_mm = [30, 120]
[[coupling_ring]]
id = "couple"
threads_mm = [58, 58]
[[teleconverter]]
id = "double"
mount = "a"
factor = 2
length_mm = 40
"#;

fn of_drawer(args: &[&str]) -> Value {
    crate::document_of(args, DRAWER)
}

#[test]
fn coupled_held_and_converted() {
    let value = |found: &Value, field: &str| found[field]["value"].as_f64().expect("a number");
    // Coupled at infinity: m = fA/fB, whatever the gap (own calculation from f1/f2).
    let coupled = of_drawer(&["setup", "--parts", "six,hundred,couple,fifty", "--json"]);
    assert_close!(value(&coupled, "magnification"), 2.0, relative = 1e-12);
    assert_eq!(coupled["extension_mm"]["value"], 0.0);
    // A converter doubles m and the effective f-number: e/f = 0.5 becomes 1, 4·(1 + 0.5) becomes 12.
    let doubled = of_drawer(&["setup", "--parts", "six,double,tube-50,hundred", "--json"]);
    assert_close!(value(&doubled, "magnification"), 1.0, relative = 1e-12);
    assert_close!(value(&doubled, "effective_f_number"), 12.0, relative = 1e-12);
    assert_close!(value(&doubled, "extension_mm"), 50.0, relative = 1e-12);
    // Held 50 mm in front of the mount it is a tube of 50 mm that is no extension.
    let held = of_drawer(&["setup", "--parts", "six,free=50,hundred", "--json"]);
    assert_close!(value(&held, "magnification"), 0.5, relative = 1e-12);
    assert_eq!(held["extension_mm"]["value"], 0.0);
}

#[test]
fn what_cannot_be_is_one_sentence() {
    let refused = |parts: &str, needles: &[&str]| {
        let words = refusal(&["setup", "--parts", parts], DRAWER);
        for needle in needles {
            assert!(words.contains(needle), "{needle}: {words}");
        }
    };
    refused("six,free=far,hundred", &["free=far", "0 to 2000"]);
    refused("six,hundred=reversed", &["reversing ring", "free=MM"]);
    refused("six,hundred,couple", &["nothing follows", "couple"]);
    refused("six,couple,fifty", &["cannot follow"]);
    let tenfold = DRAWER.replace("register_mm = 80", "register_mm = 9");
    let words = refusal(&["reach"], &tenfold);
    assert!(words.contains("register_mm") && words.contains("90") && words.contains("line 5"), "{words}");
}

#[test]
fn a_job_is_planned() {
    let args = ["plan", "--subject", "40x25", "--depth-mm", "8", "--fill", "70%", "--print-mm", "300", "--json"];
    let plan = of_drawer(&args);
    let need = |field: &str| plan["need"][field].as_f64().expect("a number");
    // 0.7 · 56 / 40, 300/56 times enlarged, 5 lp/mm on paper.
    assert_close!(need("magnification"), 0.98, relative = 1e-12);
    assert_close!(need("on_film_lp_mm"), 5.0 * 300.0 / 56.0, relative = 1e-12);
    // Ne = m·√(depth/(4.88 λ)), 550 nm (Hansma's rule, from memory).
    assert_close!(need("balanced_f_number"), 0.98 * (8.0f64 / (4.88 * 0.55e-3)).sqrt(), relative = 1e-9);
    let setups = plan["setups"].as_array().expect("set-ups");
    assert!(!setups.is_empty() && plan["serving"].as_u64() >= Some(setups.len() as u64));
    for setup in setups {
        assert_close!(setup["used_at"].as_f64().expect("a number"), 0.98, relative = 1e-9);
        assert!(setup["at"]["parts"].is_array(), "each is set for it: {setup}");
    }
    // Room that no set-up has: none serves, and why is said with the nearest.
    let far = of_drawer(&[&args[..], &["--room-mm", "3000"]].concat());
    assert_eq!(far["serving"], 0);
    assert!(far["ruled_out"].to_string().contains("too near"), "{far}");
    // With a crop allowed what falls short competes.
    let small = ["plan", "--subject", "40", "--print-mm", "200", "--fill", "100%", "--json", "--crop"];
    let count = |crop: &str| of_drawer(&[&small[..], &[crop]].concat())["serving"].as_u64().expect("a count");
    assert!(count("60%") > count("0"), "{} {}", count("60%"), count("0"));
}

#[test]
fn planned_set_ups_of_lenses_with_forms_are_predicted_and_labelled_so() {
    let args = ["plan", "--subject", "40x25", "--print-mm", "200", "--fill", "70%", "--json"];
    let plain = of_drawer(&args);
    assert!(plain["predicted_label"].is_null() && plain["setups"][0]["predicted"].is_null());
    let with = DRAWER.replace("id = \"hundred\"\n", "id = \"hundred\"\ndesign_form = \"double-gauss-1954\"\n");
    let plan = crate::document_of(&args, &with);
    assert!(plan["predicted_label"].as_str().expect("a label").contains("a form, not your lens"));
    // The plan by the kit's data is what it was.
    let parts = |plan: &Value| -> Vec<String> {
        plan["setups"].as_array().expect("set-ups").iter().map(|one| one["parts"].to_string()).collect()
    };
    assert_eq!(parts(&plan), parts(&plain));
    let told: Vec<&Value> = plan["setups"].as_array().expect("set-ups").iter().map(|one| &one["predicted"]).collect();
    let found = told.iter().find(|found| !found.is_null()).expect("one is predicted");
    let detail = &found["detail_lp_mm"];
    let (value, half) = (detail["value"].as_f64().expect("a figure"), detail["plus_minus"].as_f64().expect("a figure"));
    assert!(value > 0.0 && half > 0.03 * value, "{found}");
    assert_eq!(found["forms"][0], serde_json::json!(["hundred", "double-gauss-1954"]));
    let (_folder, path) = crate::kit(&with);
    let words = crate::closework(&args[..args.len() - 1], &path);
    let words = String::from_utf8_lossy(&words.stdout).into_owned();
    assert!(words.contains("    predicted, at f/") && words.contains("a form, not your lens"), "{words}");
}

/// An inch of 25.4 mm is 2540 pitches of 10 µm and 4000 of 6.35 µm.
#[test]
fn a_plan_says_which_scans_it_counts() {
    let args = ["plan", "--subject", "40x25", "--print-mm", "200", "--fill", "70%"];
    let with = DRAWER.replace("id = \"hundred\"\n", "id = \"hundred\"\ndesign_form = \"double-gauss-1954\"\n");
    let (_folder, path) = crate::kit(&with);
    let said = |more: &[&str]| {
        let output = crate::closework(&[&args[..], more].concat(), &path);
        String::from_utf8_lossy(&output.stdout).into_owned()
    };
    let usual = said(&[]);
    assert!(usual.contains("pitch of 6.35 µm, 4000 samples to the inch: a usual scan, since no scan says"), "{usual}");
    let typed = said(&["--pitch-um", "10"]);
    assert!(typed.contains("pitch of 10.0 µm, 2540 samples to the inch: as --pitch-um says"), "{typed}");
    // Coarser scans hold less of what the lens draws.
    let detail = |pitch: &str| {
        let plan = crate::document_of(&[&args[..], &["--pitch-um", pitch, "--json"]].concat(), &with);
        let setups = plan["setups"].as_array().expect("set-ups").clone();
        let found = setups.iter().find(|one| !one["predicted"].is_null()).expect("one is predicted");
        found["predicted"]["detail_lp_mm"]["value"].as_f64().expect("a figure")
    };
    assert!(detail("25.4") < detail("5"), "{} {}", detail("25.4"), detail("5"));
    for wrong in ["0", "-1", "fine"] {
        assert!(refusal(&[&args[..], &["--pitch-um", wrong]].concat(), &with).contains("--pitch-um"), "{wrong}");
    }
}

#[test]
fn a_plan_that_is_not_understood_is_refused() {
    for (args, needle) in [
        (&["--subject", "0", "--print-mm", "300"][..], "above 0"),
        (&["--subject", "40x", "--print-mm", "300"], "number"),
        (&["--subject", "40", "--print-mm", "300", "--fill", "140%"], "at most 1"),
        (&["--subject", "40", "--print-mm", "300", "--crop", "1"], "below 1"),
        (&["--subject", "40", "--print-mm", "300", "--body", "sixty"], "sixty"),
        (&["--subject", "400000", "--print-mm", "300"], "subject"),
    ] {
        let words = refusal(&[&["plan"], args].concat(), DRAWER);
        assert!(words.contains(needle), "{needle}: {words}");
    }
}

#[test]
fn an_assumed_pupil_is_too_much_for_a_plain_plus_minus() {
    let vague = DRAWER.replace("pupil_ratio = 1\nprincipal_separation_mm = 0\nlength_mm = 60", "length_mm = 60");
    let found = crate::document_of(&["setup", "--parts", "six,tube-50,hundred", "--json"], &vague);
    let interval = &found["simulated"]["effective_f_number"];
    let (low, high) = (interval["low"].as_f64().expect("a number"), interval["high"].as_f64().expect("a number"));
    let value = found["effective_f_number"]["value"].as_f64().expect("a number");
    assert!(low < value && high > value && high - value > value - low, "lopsided: {low} {value} {high}");
    assert!(
        document(&["setup", "--parts", "six,normal", "--json"])["simulated"].as_object().expect("a table").is_empty()
    );
}
