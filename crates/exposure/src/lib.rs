//! From a hand-held meter's reading to the shutter speed to set.
