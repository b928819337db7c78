//! Trains of ray-transfer matrices: magnification, pupils, light, depth, diffraction, with uncertainty.
