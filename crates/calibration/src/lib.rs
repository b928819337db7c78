//! A lens's true figures from its own test frames.
