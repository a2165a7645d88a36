-- How one child takes a work, beside the fingering that stands in its score. Of those of a child and a work at most one holds.
CREATE TABLE own_fingerings (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	student_id TEXT NOT NULL,
	work_id TEXT NOT NULL,
	score TEXT NOT NULL, -- MusicXML
	asked TEXT NOT NULL,
	why TEXT NOT NULL,
	lesson_id TEXT NOT NULL, -- '' for none; the lesson may be gone
	kept_at BIGINT NOT NULL,
	held_at BIGINT NOT NULL, -- 0: to be tried only
	ended_at BIGINT NOT NULL, -- 0 while it holds
	fits BIGINT NOT NULL CHECK (fits IN (0, 1)), -- whether the score has these notes still
	FOREIGN KEY (studio_id, family_id, student_id) REFERENCES students (studio_id, family_id, id) ON DELETE CASCADE,
	FOREIGN KEY (studio_id, work_id) REFERENCES works (studio_id, id) ON DELETE CASCADE
);
CREATE INDEX own_fingerings_family ON own_fingerings (studio_id, family_id, student_id, work_id);
CREATE INDEX own_fingerings_work ON own_fingerings (studio_id, work_id);
CREATE UNIQUE INDEX own_fingerings_holding ON own_fingerings (studio_id, student_id, work_id) WHERE held_at <> 0 AND ended_at = 0;
