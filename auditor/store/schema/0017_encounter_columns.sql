-- What comparisons are made of is packed, a trip at a time (store/encounter_columns.py); sums that SQL adds up stay as they
-- were. All sums are made anew.
DELETE FROM summed;
CREATE TABLE encounter_columns (
    trip_id INTEGER PRIMARY KEY,
    sums BLOB NOT NULL,
    words TEXT NOT NULL  -- JSON: those that rows name by their place in it
) STRICT;
DROP TABLE encounter_sums;
CREATE TABLE encounter_sums (
    trip_id INTEGER NOT NULL,
    kit_id INTEGER NOT NULL,
    encounter_id INTEGER NOT NULL,  -- 0 for frames that are in none
    frames INTEGER NOT NULL,
    by_word INTEGER NOT NULL,  -- weighed frames whose probability is that of the camera's word
    by_reading INTEGER NOT NULL,  -- and of a reading; the verdict of the others is sure
    framed_judged INTEGER,
    framed_hits INTEGER,
    read_frames INTEGER NOT NULL,  -- those with a reading of their pixels
    waiting INTEGER NOT NULL,  -- those without one whose file is there, and was never found undecodable
    lit INTEGER NOT NULL,  -- weighed frames in known light
    lit_hits REAL NOT NULL,
    lit_light_ev REAL,
    lit_by_word INTEGER NOT NULL,
    lit_by_reading INTEGER NOT NULL,
    cropped INTEGER NOT NULL,  -- frames that tell the crop factor, and its sum; the next three alike
    crop_factors REAL NOT NULL,
    focused INTEGER NOT NULL,
    focal_lengths_mm REAL NOT NULL,
    sized INTEGER NOT NULL,
    sensor_diagonals_mm REAL NOT NULL,
    pitched INTEGER NOT NULL,
    pixel_pitches_um REAL NOT NULL,
    lens_widest_f_number REAL,
    longest_mm REAL,  -- the longest focal length of frames that tell all that planning needs of a kit
    auto_iso REAL,  -- the highest that the body chose by itself
    auto_iso_frames INTEGER,  -- at that ISO, with the span of their light
    auto_iso_lowest_ev REAL,
    auto_iso_highest_ev REAL,
    by_word_hits REAL NOT NULL,  -- the sum of those probabilities, and of their squares
    by_word_squares REAL NOT NULL,
    PRIMARY KEY (kit_id, encounter_id, trip_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX encounter_sums_by_trip ON encounter_sums (trip_id);
