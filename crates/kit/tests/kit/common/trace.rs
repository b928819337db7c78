//! A stack built twice: as text of a kit file, and as a plain list of thin lenses and openings for a ray traced by
//! hand.
//!
//! The trace runs from the film outwards, one number for height and one for slope, and shares no line with the program.
//! An iris stands on the subject's side of its own lens, where the program puts it on the film's side.

/// What a ray meets, mm in front of the film.
enum Met {
    /// A lens: its plane that faces the film, the one that faces the subject, its power in 1/mm.
    Glass(f64, f64, f64),
    /// An opening: place, diameter, the id of the part it belongs to.
    Opening(f64, f64, String),
}

/// A lens of a kit file.
#[derive(Debug, Clone, Copy)]
pub struct Lens {
    pub f: f64,
    pub p: f64,
    pub n: f64,
    pub length: f64,
    pub separation: f64,
    /// The register it was built for.
    pub register: f64,
}

/// What the trace gives.
#[derive(Debug)]
pub struct Traced {
    /// Signed: positive for the usual inverted picture.
    pub magnification: f64,
    pub subject_to_film: f64,
    pub working_distance: f64,
    /// From the foremost principal plane to the subject.
    pub before_glass: f64,
    pub effective: f64,
    pub limited_by: String,
}

/// A stack that grows from the film outwards.
pub struct Assembly {
    pub text: String,
    pub parts: Vec<String>,
    pub extension: f64,
    met: Vec<Met>,
    at: f64,
}

impl Assembly {
    pub fn on(register: f64, throat: Option<f64>) -> Self {
        let throat_text = throat.map_or(String::new(), |d| format!("throat_mm = {d}\n"));
        let text = format!(
            "[[body]]\nid = \"body\"\nframe_mm = [56, 56]\nregister_mm = {{ value = {register}, plus_minus = 0 }}\nmount = \"m\"\n{throat_text}"
        );
        let met = throat.map(|d| Met::Opening(register, d, "body".into())).into_iter().collect();
        Self { text, parts: vec!["body".into()], extension: 0.0, met, at: register }
    }

    fn part(&mut self, kind: &str, fields: &str) -> String {
        let id = format!("part-{}", self.parts.len());
        self.text += &format!("[[{kind}]]\nid = \"{id}\"\n{fields}\n");
        self.parts.push(id.clone());
        id
    }

    fn opening(&mut self, clear: Option<f64>, id: &str) {
        self.met.extend(clear.map(|diameter| Met::Opening(self.at, diameter, id.into())));
    }

    fn space(&mut self, length: f64, clear: Option<f64>, id: &str) {
        self.opening(clear, id);
        self.at += length;
        self.opening(clear, id);
    }

    pub fn tube(&mut self, length: f64, clear: Option<f64>) {
        let id = self.part("tube", &format!("mount = \"m\"\nlength_mm = {length}{}", clear_text(clear)));
        self.space(length, clear, &id);
        self.extension += length;
    }

    pub fn bellows(&mut self, draw: f64) {
        let id = self.part("bellows", "mount = \"m\"\ndraw_mm = [20, 300]");
        self.parts.pop();
        self.parts.push(format!("{id}={draw}"));
        self.space(draw, None, &id);
        self.extension += draw;
    }

    /// From mount m to mount n.
    pub fn adapter(&mut self, length: f64, clear: Option<f64>) {
        let text = format!("body_mount = \"m\"\nlens_mount = \"n\"\nlength_mm = {length}{}", clear_text(clear));
        let id = self.part("adapter", &text);
        self.space(length, clear, &id);
    }

    pub fn converter(&mut self, k: f64, length: f64, register: f64, clear: Option<f64>) {
        let text = format!(
            "mount = \"m\"\nfactor = {k}\nlength_mm = {length}\nregister_mm = {{ value = {register}, plus_minus = 0 }}{}",
            clear_text(clear)
        );
        let id = self.part("teleconverter", &text);
        self.opening(clear, &id);
        // The picture lies L/(k − 1) behind the glass without it, and L further with it.
        let object = length / (k - 1.0);
        let glass = self.at + length - (register - object);
        self.met.push(Met::Glass(glass, glass, 1.0 / (object + length) - 1.0 / object));
        self.at += length;
        self.opening(clear, &id);
    }

    fn lens_part(&mut self, lens: &Lens, mount: &str) -> String {
        let Lens { f, p, n, length, separation, register } = lens;
        self.part(
            "lens",
            &format!(
                "mount = \"{mount}\"\nfocal_length_mm = {f}\npupil_ratio = {p}\nmax_aperture = {n}\nlength_mm = {length}\n\
                 principal_separation_mm = {separation}\nregister_mm = {{ value = {register}, plus_minus = 0 }}\nthread_mm = 52\n\
                 max_magnification = 0.5"
            ),
        )
    }

    /// By its mount, or held with its seat here; `travel` mm forward.
    pub fn lens(&mut self, lens: &Lens, mount: &str, travel: f64) {
        let id = self.lens_part(lens, mount);
        let rear_plane = self.at + lens.f - lens.register + travel;
        let front_plane = rear_plane + lens.separation;
        self.met.push(Met::Glass(rear_plane, front_plane, 1.0 / lens.f));
        let entrance = front_plane - lens.f * (1.0 / lens.p - 1.0);
        self.met.push(Met::Opening(entrance, lens.f / lens.n, id));
        self.at += lens.length + travel;
        self.extension += travel;
    }

    /// With its front rim here, its mount towards the subject; `travel` mm moves the seat.
    pub fn reversed_lens(&mut self, lens: &Lens, held: bool, travel: f64) {
        let id = self.lens_part(lens, "m");
        if held {
            self.parts.pop();
            self.parts.push(format!("{id}=reversed"));
        }
        let near = self.at + lens.length + lens.register - lens.f - lens.separation;
        let far = near + lens.separation;
        self.met.push(Met::Glass(near, far, 1.0 / lens.f));
        let exit = far + lens.f * (1.0 - lens.p);
        self.met.push(Met::Opening(exit, lens.p * lens.f / lens.n, id));
        self.at += lens.length + travel;
        self.extension += travel;
    }

    pub fn reversing_ring(&mut self, thickness: f64, clear: Option<f64>) {
        let text = format!("mount = \"m\"\nthread_mm = 52\nthickness_mm = {thickness}{}", clear_text(clear));
        let id = self.part("reversing_ring", &text);
        self.space(thickness, clear, &id);
    }

    pub fn coupling_ring(&mut self, thickness: Option<f64>, clear: Option<f64>) {
        let text = thickness.map_or(String::new(), |mm| format!("\nthickness_mm = {mm}"));
        let id = self.part("coupling_ring", &format!("threads_mm = [52, 52]{text}{}", clear_text(clear)));
        self.space(thickness.unwrap_or(3.0), clear, &id);
    }

    pub fn step_ring(&mut self, from: f64, to: f64, thickness: f64) {
        let id = self.part("step_ring", &format!("from_mm = {from}\nto_mm = {to}\nthickness_mm = {thickness}"));
        self.space(thickness, None, &id);
    }

    pub fn free(&mut self, mm: f64) {
        self.parts.push(format!("free={mm}"));
        self.at += mm;
    }

    pub fn close_up(&mut self, dpt: f64, gap: Option<f64>, thread: f64, clear: Option<f64>, held: bool) {
        let gap_text = gap.map_or(String::new(), |mm| format!("\ngap_mm = {mm}"));
        let text = format!("power_dpt = {dpt}\nthread_mm = {thread}{gap_text}{}", clear_text(clear));
        let id = self.part("close_up_lens", &text);
        if !held {
            self.at += gap.unwrap_or(3.0);
        }
        self.opening(clear, &id);
        self.met.push(Met::Glass(self.at, self.at, dpt / 1000.0));
    }

    /// A ray from the film at that height and slope, as it leaves for the subject: the same pair at the stack's front
    /// end. `each` is told the height at every opening.
    fn ray(&self, mut height: f64, mut slope: f64, mut each: impl FnMut(f64, f64, &str)) -> (f64, f64) {
        let mut at = 0.0;
        for met in &self.met {
            match met {
                Met::Glass(near, far, power) => {
                    height += slope * (near - at);
                    slope -= height * power;
                    at = *far;
                }
                Met::Opening(place, diameter, id) => {
                    height += slope * (place - at);
                    at = *place;
                    each(height, *diameter, id);
                }
            }
        }
        (height + slope * (self.at - at), slope)
    }

    fn foremost(&self) -> f64 {
        let planes = self.met.iter().rev().find_map(|met| match met {
            Met::Glass(_, far, _) => Some(*far),
            Met::Opening(..) => None,
        });
        planes.unwrap_or_default()
    }

    pub fn traced(&self) -> Traced {
        let mut widest = (f64::INFINITY, String::new());
        let (height, slope) = self.ray(0.0, 1.0, |height, diameter, id| {
            let passes = 0.5 * diameter / height.abs();
            if passes < widest.0 {
                widest = (passes, id.into());
            }
        });
        let working_distance = -height / slope;
        let (y, u) = self.ray(1.0, 0.0, |_, _, _| {});
        Traced {
            magnification: -1.0 / (y + u * working_distance),
            subject_to_film: self.at + working_distance,
            working_distance,
            before_glass: self.at + working_distance - self.foremost(),
            effective: 0.5 / widest.0,
            limited_by: widest.1,
        }
    }

    /// Up to which height on film the whole cone of the limiting opening passes all the others, found by trying rays.
    pub fn lit_whole(&self) -> f64 {
        let cone = 0.5 / self.traced().effective;
        let limiting = self.traced().limited_by;
        // Heights at all openings are linear in film height and slope: the ray through the iris's edge is sought for
        // each height.
        let heights = |height: f64, slope: f64| {
            let mut found = Vec::new();
            self.ray(height, slope, |at, diameter, id| found.push((at, diameter, id.to_owned())));
            found
        };
        let iris = heights(0.0, cone)
            .iter()
            .position(|(at, diameter, id)| *id == limiting && (at.abs() - 0.5 * diameter).abs() < 1e-9 * diameter)
            .expect("the limiting opening is grazed");
        let passes = |height: f64| {
            let (level, tilt) = (heights(height, 0.0)[iris].0, heights(0.0, 1.0)[iris].0);
            let radius = 0.5 * heights(0.0, 0.0)[iris].1;
            [-radius, radius].iter().all(|edge| {
                let slope = (edge - level) / tilt;
                heights(height, slope)
                    .iter()
                    .enumerate()
                    .all(|(index, (at, diameter, _))| index == iris || at.abs() <= 0.5 * diameter * (1.0 + 1e-12))
            })
        };
        let (mut low, mut high) = (0.0, 1e5);
        for _ in 0..100 {
            let middle = 0.5 * (low + high);
            if passes(middle) { low = middle } else { high = middle }
        }
        low
    }
}

fn clear_text(clear: Option<f64>) -> String {
    clear.map_or(String::new(), |diameter| format!("\nclear_mm = {diameter}"))
}
