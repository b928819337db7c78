//! From a job to what its pictures need of a set-up.
