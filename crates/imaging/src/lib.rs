//! Scan files to linear-light pictures, region by region, and the viewing pyramid.
