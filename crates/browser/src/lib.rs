//! A running Closework and a browser in front of it, for the tests in this crate.
//!
//! The server is the workspace's own binary (built by `cargo test --workspace --no-run`), the browser Chromium through
//! `chromedriver`, both on free ports and both gone when the test ends.

mod house;
mod visitor;

pub use house::House;
pub use visitor::{Failure, Visitor};
