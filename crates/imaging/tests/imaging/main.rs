//! Files read and written: whole, in part and broken.

#[path = "../common/absurd.rs"]
mod absurd;
mod broken;
#[path = "../common/mod.rs"]
mod common;
mod corpus;
#[path = "../common/files.rs"]
mod files;
mod foreign;
#[path = "../common/layouts.rs"]
mod layouts;
mod negative;
mod notes;
mod pyramid;
mod pyramid_layouts;
mod reduced;
mod regions;
mod tone;
mod written;
