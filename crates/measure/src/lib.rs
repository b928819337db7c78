//! Slanted edges and rulers on linear-light pictures.
