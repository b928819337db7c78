//! The transform against the sum that defines it.

use fourier::{Complex32, Room, Square, smooth};
use testkit::assert_close;

#[test]
fn sizes_are_products_of_small_primes() {
    assert_eq!([0, 1, 17, 577, 640, 641].map(smooth), [16, 16, 32, 640, 640, 720]);
}

#[test]
fn it_is_the_sum_that_defines_it_and_back_is_the_grid() {
    let (size, filled) = (12, 9);
    let places = size * size;
    let value = |k: usize| Complex32::new((k * k % 17) as f32, (k * 7 % 5) as f32);
    let grid: Vec<Complex32> =
        (0..places).map(|k| if k < filled * size { value(k) } else { Complex32::default() }).collect();
    let (square, mut room) = (Square::new(size), Room::default());
    let mut fast = grid.clone();
    square.there(&mut fast, filled, &mut room);
    for (u, v) in [(0, 0), (1, 0), (0, 3), (5, 2), (7, 11)] {
        let (mut re, mut im) = (0.0, 0.0);
        for (k, z) in grid.iter().enumerate() {
            let angle = -std::f64::consts::TAU * ((k % size * u + k / size * v) % size) as f64 / size as f64;
            let (a, b) = (f64::from(z.re), f64::from(z.im));
            re += a * angle.cos() - b * angle.sin();
            im += a * angle.sin() + b * angle.cos();
        }
        // Rows and columns are exchanged.
        let own = fast[u * size + v];
        assert_close!(f64::from(own.re), re, absolute = 2e-3, "{u}, {v}");
        assert_close!(f64::from(own.im), im, absolute = 2e-3, "{u}, {v}");
    }
    square.back(&mut fast, &mut room);
    for (own, z) in fast.iter().zip(&grid) {
        assert_close!(f64::from(own.re) / places as f64, f64::from(z.re), absolute = 1e-5);
        assert_close!(f64::from(own.im) / places as f64, f64::from(z.im), absolute = 1e-5);
    }
}

#[test]
#[should_panic(expected = "a grid of 16 by 16")]
fn a_grid_of_another_size_is_a_slip() {
    Square::new(16).there(&mut vec![Complex32::default(); 17], 1, &mut Room::default());
}
