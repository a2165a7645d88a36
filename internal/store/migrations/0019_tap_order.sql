-- What was tapped in the whole studio in its order, and of it what waits for an answer.
CREATE INDEX taps_in_order ON taps (studio_id, at, id);
DROP INDEX taps_open;
CREATE INDEX taps_open ON taps (studio_id, at, id) WHERE answered_at = 0 AND kind IN ('hurt', 'question', 'voice');
