//! A paraxial tracer of its own: a ray is a height and an optical angle, met by one surface after another (Kingslake,
//! *Lens Design Fundamentals*, 3.1; Greivenkamp, *Field Guide to Geometrical Optics*, "y-nu trace").

/// A surface and the room behind it. A power of 0 is a plane where the stop may lie.
#[derive(Debug, Clone, Copy)]
pub struct Surface {
    /// (n' − n)/R, 1/mm.
    pub power: f64,
    /// To the next surface, mm.
    pub thickness: f64,
    /// Index of what lies behind.
    pub index: f64,
}

/// A lens as its maker knows it.
#[derive(Debug, Clone)]
pub struct Glass {
    pub surfaces: Vec<Surface>,
    /// Which surface is the stop.
    pub stop: usize,
}

/// The points that make a lens a black box, mm, positive toward the film.
#[derive(Debug, Clone, Copy)]
pub struct Cardinal {
    pub focal_length: f64,
    /// From the last vertex.
    pub back_focus: f64,
    /// From the first vertex; negative in front of it.
    pub front_focus: f64,
    /// From the first vertex to the last.
    pub length: f64,
    /// H to H'; positive when H lies nearer the subject.
    pub separation: f64,
    pub pupil_ratio: f64,
    /// Entrance pupil from the first vertex.
    pub entrance: f64,
    /// Entrance pupil diameter over stop diameter.
    pub entrance_size: f64,
}

/// A ray: height in mm and optical angle n·u.
#[derive(Debug, Clone, Copy)]
pub struct Ray {
    pub height: f64,
    pub angle: f64,
}

impl Ray {
    fn refracted(self, power: f64) -> Self {
        Self { angle: self.angle - self.height * power, ..self }
    }

    fn moved(self, reduced: f64) -> Self {
        Self { height: self.height + self.angle * reduced, ..self }
    }
}

impl Glass {
    /// From (radius, thickness, index behind); a plane has an infinite radius.
    pub fn of(rows: &[(f64, f64, f64)], stop: usize) -> Self {
        let mut before = 1.0;
        let surfaces = rows.iter().map(|&(radius, thickness, index)| {
            let power = (index - before) / radius;
            before = index;
            Surface { power, thickness, index }
        });
        Self { surfaces: surfaces.collect(), stop }
    }

    /// The same lens turned round.
    pub fn reversed(&self) -> Self {
        let n = self.surfaces.len();
        let room = |i: usize| match i.checked_sub(1) {
            None => (0.0, 1.0),
            Some(before) => (self.surfaces[before].thickness, self.surfaces[before].index),
        };
        let turn = |i: usize| {
            let (thickness, index) = room(i);
            Surface { power: self.surfaces[i].power, thickness, index }
        };
        Self { surfaces: (0..n).rev().map(turn).collect(), stop: n - 1 - self.stop }
    }

    pub fn length(&self) -> f64 {
        self.surfaces[..self.surfaces.len() - 1].iter().map(|s| s.thickness).sum()
    }

    /// The ray just behind the last surface, and its height at the stop, for a ray just before the first one.
    pub fn through(&self, mut ray: Ray) -> (Ray, f64) {
        let mut at_stop = f64::NAN;
        for (i, surface) in self.surfaces.iter().enumerate() {
            if i == self.stop {
                at_stop = ray.height;
            }
            ray = ray.refracted(surface.power);
            if i + 1 < self.surfaces.len() {
                ray = ray.moved(surface.thickness / surface.index);
            }
        }
        (ray, at_stop)
    }

    /// The stop as seen from the first vertex: where (behind it), and how many times as large.
    fn stop_seen_in_front(&self) -> (f64, f64) {
        let mut ray = Ray { height: 0.0, angle: 1.0 };
        // Backwards: undo every move and every refraction that lies in front of the stop.
        for surface in self.surfaces[..self.stop].iter().rev() {
            ray = ray.moved(-surface.thickness / surface.index).refracted(-surface.power);
        }
        (-ray.height / ray.angle, 1.0 / ray.angle)
    }

    pub fn cardinal(&self) -> Cardinal {
        let (behind, _) = self.through(Ray { height: 1.0, angle: 0.0 });
        let focal_length = -1.0 / behind.angle;
        let back_focus = -behind.height / behind.angle;
        let turned = self.reversed();
        let (behind, _) = turned.through(Ray { height: 1.0, angle: 0.0 });
        let front_focus = behind.height / behind.angle;
        let (entrance, entrance_size) = self.stop_seen_in_front();
        let (_, exit_size) = turned.stop_seen_in_front();
        let length = self.length();
        Cardinal {
            focal_length,
            back_focus,
            front_focus,
            length,
            separation: (length + back_focus - focal_length) - (front_focus + focal_length),
            pupil_ratio: (exit_size / entrance_size).abs(),
            entrance,
            entrance_size: entrance_size.abs(),
        }
    }

    /// A point on the axis `in_front` mm before the first vertex, its ray through the edge of a stop of that radius:
    /// height on a film `behind` mm after the last vertex, and slope there.
    pub fn edge_ray(&self, in_front: f64, behind: f64, stop_radius: f64) -> Ray {
        let (_, at_stop) = self.through(Ray { height: 0.0, angle: 1.0 }.moved(in_front));
        let angle = stop_radius / at_stop;
        let (ray, _) = self.through(Ray { height: 0.0, angle }.moved(in_front));
        ray.moved(behind)
    }
}
