-- Spectra in rings of what was measured, so that frames of a scene can be read together; and what came of it.
ALTER TABLE readings ADD COLUMN rings BLOB;  -- focus/ring_spectrum.py; NULL where the picture is too small
-- Derived, as inferred is: inferred.blur_px then holds the same blur.
CREATE TABLE scene_blur (
    frame_id INTEGER PRIMARY KEY REFERENCES frames ON DELETE CASCADE,
    together_id INTEGER NOT NULL,  -- the first of the frames that were read together
    blur_px REAL NOT NULL,
    blur_low_px REAL NOT NULL,  -- 90 % interval
    blur_high_px REAL NOT NULL,
    place INTEGER NOT NULL  -- among those read together, 0 for the sharpest
) STRICT;
