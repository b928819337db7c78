//! The command line and the web pages.
fn main() {}
