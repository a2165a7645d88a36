-- The scores that a work had before, with the fingers that were in them for everybody, to be gone back to.
CREATE TABLE earlier_scores (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	work_id TEXT NOT NULL,
	score TEXT NOT NULL, -- MusicXML
	same TEXT NOT NULL, -- a digest of the score
	notes TEXT NOT NULL, -- a digest of its notes, without fingers; '' where it cannot be read
	ended_at BIGINT NOT NULL,
	FOREIGN KEY (studio_id, work_id) REFERENCES works (studio_id, id) ON DELETE CASCADE
);
CREATE INDEX earlier_scores_work ON earlier_scores (studio_id, work_id, ended_at);
