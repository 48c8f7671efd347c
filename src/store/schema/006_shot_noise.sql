-- Shot noise of an instrument, sqrt(cd/m2 s); 0 = not stated. Simulated meters have had it all along.
ALTER TABLE instruments ADD COLUMN shot_noise REAL NOT NULL DEFAULT 0;
UPDATE instruments SET shot_noise = 0.001 WHERE kind = 'simulated';
