//! A predicted frame drawn on all cores.

use std::ops::ControlFlow;
use std::sync::mpsc;

use scene::{Capture, Drawing, PointSpreadError, PointSpreads, Scene};

/// Draws the frame and hands its rows over from the top, some at a time; `sink` may stop the work.
///
/// # Errors
///
/// When the spreads reach too far for the scan's pitch.
pub fn draw(
    scene: &Scene,
    capture: &Capture,
    spreads: &PointSpreads,
    sink: &mut dyn FnMut(&[u16]) -> ControlFlow<()>,
) -> Result<ControlFlow<()>, PointSpreadError> {
    let count = Drawing::through(scene, capture, spreads)?.count();
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get).min(count);
    std::thread::scope(|scope| {
        let bands: Vec<mpsc::Receiver<Vec<u16>>> = (0..threads)
            .map(|thread| {
                // One band waits while the next is made: memory stays bounded however slow the disk is.
                let (sender, receiver) = mpsc::sync_channel(1);
                scope.spawn(move || {
                    // The first one was not refused, and these are the same.
                    let Ok(mut drawing) = Drawing::through(scene, capture, spreads) else { return };
                    let mut mine = (thread..count).step_by(threads);
                    // Nobody listens any more: the work was stopped.
                    let _ = mine.try_for_each(|number| sender.send(drawing.band(number)));
                });
                receiver
            })
            .collect();
        for number in 0..count {
            // A thread that is gone has panicked; the scope hands that on.
            let Ok(band) = bands[number % threads].recv() else { break };
            if sink(&band).is_break() {
                return Ok(ControlFlow::Break(()));
            }
        }
        Ok(ControlFlow::Continue(()))
    })
}
