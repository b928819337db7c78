-- What a job asks of light and depth, and how much of the frame may be cropped away.
ALTER TABLE jobs ADD COLUMN subject_short_mm REAL CHECK (subject_short_mm > 0 AND subject_short_mm < 9e999);
ALTER TABLE jobs ADD COLUMN depth_wanted_mm REAL CHECK (depth_wanted_mm >= 0 AND depth_wanted_mm < 9e999);
ALTER TABLE jobs ADD COLUMN most_stops_lost REAL CHECK (most_stops_lost >= 0 AND most_stops_lost < 9e999);
ALTER TABLE jobs ADD COLUMN largest_crop REAL NOT NULL DEFAULT 0 CHECK (largest_crop >= 0 AND largest_crop < 1);
