-- Quantiles of sigma_px at 5, 10, 20, 35, 50, 65, 80, 90 and 95 %: a JSON array, px. From them follows how likely
-- a frame is in focus for any limit.
ALTER TABLE readings ADD COLUMN quantiles_px TEXT;
