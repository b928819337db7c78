//! The SQLite file that holds kit, jobs, rolls, frames, scans, measurements and decisions.
