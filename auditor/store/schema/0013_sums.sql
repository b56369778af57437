-- Sums of frames by kit and encounter, kept so that a question over all trips does not read every frame. Derived:
-- `summed` holds the trips whose sums stand (0: the frames that are in no trip). Whatever changes a frame that was
-- summed takes its trip out of `summed`, by the triggers below, and the next rebuild sums that trip anew.
CREATE TABLE summed (trip_id INTEGER PRIMARY KEY) STRICT;

CREATE TABLE encounter_sums (
    trip_id INTEGER NOT NULL,
    kit_id INTEGER NOT NULL,
    encounter_id INTEGER NOT NULL,  -- 0 for frames that are in none
    frames INTEGER NOT NULL,
    judged INTEGER,
    hits INTEGER,
    unclear INTEGER,
    weighed INTEGER NOT NULL,
    likely_hits REAL NOT NULL,
    by_word INTEGER NOT NULL,  -- weighed frames whose probability is that of the camera's word
    by_reading INTEGER NOT NULL,  -- and of a reading; the verdict of the others is sure
    framed_judged INTEGER,
    framed_hits INTEGER,
    measured INTEGER,
    silent INTEGER,
    manual INTEGER,
    unmetered INTEGER,
    iso_pushed INTEGER,
    near_reciprocal INTEGER,
    compared INTEGER NOT NULL,
    compared_hits REAL NOT NULL,
    compared_by_word INTEGER NOT NULL,
    compared_by_reading INTEGER NOT NULL,
    light_ev REAL,
    exposure_time_s REAL,
    metre_mrad REAL,
    keyworded INTEGER,
    first_keywords TEXT,
    last_keywords TEXT,
    first_mode TEXT,
    last_mode TEXT,
    first_at TEXT,
    last_at TEXT,
    numbered INTEGER NOT NULL,
    lowest INTEGER,
    highest INTEGER,
    lowest_of_high INTEGER,
    highest_of_low INTEGER,
    read_frames INTEGER NOT NULL,  -- those with a reading of their pixels
    waiting INTEGER NOT NULL,  -- those without one whose file is there, and was never found undecodable
    lit INTEGER NOT NULL,  -- weighed frames in known light
    lit_hits REAL NOT NULL,
    lit_light_ev REAL,
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
    by_reading_hits REAL NOT NULL,
    by_reading_squares REAL NOT NULL,
    lit_by_word INTEGER NOT NULL,
    lit_by_reading INTEGER NOT NULL,
    PRIMARY KEY (kit_id, encounter_id, trip_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX encounter_sums_by_trip ON encounter_sums (trip_id);

CREATE TABLE flag_sums (
    trip_id INTEGER NOT NULL,
    flag TEXT NOT NULL,
    frames INTEGER NOT NULL,
    PRIMARY KEY (trip_id, flag)
) STRICT, WITHOUT ROWID;

-- What medians and quartiles need of every frame: rows of eight-byte floats, little end first (store/trip_numbers.py).
CREATE TABLE trip_numbers (
    trip_id INTEGER PRIMARY KEY,
    light BLOB NOT NULL,
    detail BLOB NOT NULL
) STRICT;

CREATE INDEX inferred_left_out ON inferred (frame_id) WHERE excluded;
CREATE INDEX inferred_flagged ON inferred (taken_at, frame_id) WHERE flags <> '[]';

CREATE TRIGGER summed_frames AFTER UPDATE ON frames BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = NEW.frame_id), 0);
END;
CREATE TRIGGER summed_new_inferred AFTER INSERT ON inferred BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = NEW.frame_id), 0);
END;
CREATE TRIGGER summed_inferred AFTER UPDATE ON inferred BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = NEW.frame_id), 0);
END;
CREATE TRIGGER summed_no_inferred AFTER DELETE ON inferred BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = OLD.frame_id), 0);
END;
CREATE TRIGGER summed_new_verdicts AFTER INSERT ON verdicts BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = NEW.frame_id), 0);
END;
CREATE TRIGGER summed_verdicts AFTER UPDATE ON verdicts BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = NEW.frame_id), 0);
END;
CREATE TRIGGER summed_no_verdicts AFTER DELETE ON verdicts BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = OLD.frame_id), 0);
END;
CREATE TRIGGER summed_new_readings AFTER INSERT ON readings BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = NEW.frame_id), 0);
END;
CREATE TRIGGER summed_readings AFTER UPDATE OF scale, system_sigma_px, noise ON readings BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = NEW.frame_id), 0);
END;
CREATE TRIGGER summed_no_readings AFTER DELETE ON readings BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = OLD.frame_id), 0);
END;
-- A frame that comes or goes may be in no trip before or after.
CREATE TRIGGER summed_new_membership AFTER INSERT ON membership BEGIN
    DELETE FROM summed WHERE trip_id IN (NEW.trip_id, 0);
END;
CREATE TRIGGER summed_membership AFTER UPDATE ON membership BEGIN
    DELETE FROM summed WHERE trip_id IN (OLD.trip_id, NEW.trip_id, 0);
END;
CREATE TRIGGER summed_no_membership AFTER DELETE ON membership BEGIN
    DELETE FROM summed WHERE trip_id IN (OLD.trip_id, 0);
END;
-- Whether a frame waits to be measured: its files, and what could not be decoded.
CREATE TRIGGER summed_new_files AFTER INSERT ON files BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = NEW.frame_id), 0);
END;
CREATE TRIGGER summed_files AFTER UPDATE ON files BEGIN
    DELETE FROM summed WHERE trip_id IN (
        SELECT coalesce((SELECT trip_id FROM membership WHERE frame_id = moved.frame_id), 0)
        FROM (SELECT OLD.frame_id AS frame_id UNION SELECT NEW.frame_id) AS moved);
END;
CREATE TRIGGER summed_no_files AFTER DELETE ON files BEGIN
    DELETE FROM summed WHERE trip_id = coalesce((SELECT trip_id FROM membership WHERE frame_id = OLD.frame_id), 0);
END;
CREATE TRIGGER summed_new_unreadable AFTER INSERT ON unreadable BEGIN
    DELETE FROM summed WHERE trip_id IN (
        SELECT coalesce(m.trip_id, 0) FROM files LEFT JOIN membership AS m USING (frame_id) WHERE path = NEW.path);
END;
CREATE TRIGGER summed_no_unreadable AFTER DELETE ON unreadable BEGIN
    DELETE FROM summed WHERE trip_id IN (
        SELECT coalesce(m.trip_id, 0) FROM files LEFT JOIN membership AS m USING (frame_id) WHERE path = OLD.path);
END;
