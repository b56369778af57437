-- Seconds that were added to the time of a frame for it to be put in order among others: of clocks in several time zones
-- one is made (derive/one_clock.py). 0 where nothing was added.
ALTER TABLE membership ADD COLUMN shift_s INTEGER NOT NULL DEFAULT 0;
