-- What was resolved on a bench: one row a kit and session; the newest of a kit counts.
CREATE TABLE bench (
    bench_id INTEGER PRIMARY KEY,
    measured_at TEXT NOT NULL,
    body_make TEXT NOT NULL,
    body_model TEXT NOT NULL,
    body_serial TEXT NOT NULL,
    lens_name TEXT NOT NULL,
    converter_factor REAL NOT NULL CHECK (converter_factor >= 1),
    focal_length_mm REAL NOT NULL CHECK (focal_length_mm > 0),
    f_number REAL NOT NULL CHECK (f_number > 0),
    pixel_pitch_um REAL NOT NULL CHECK (pixel_pitch_um > 0),
    shots INTEGER NOT NULL CHECK (shots > 0),
    cycles_per_mrad REAL NOT NULL CHECK (cycles_per_mrad > 0),
    repeatability REAL
) STRICT;
