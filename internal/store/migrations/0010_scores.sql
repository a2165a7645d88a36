-- A list of works has hundreds of them and shows no score, and a score is long: it gets a table of its own.
CREATE TABLE scores (
	work_id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	score TEXT NOT NULL, -- MusicXML
	FOREIGN KEY (studio_id, work_id) REFERENCES works (studio_id, id) ON DELETE CASCADE
);
CREATE INDEX scores_work ON scores (studio_id, work_id);
INSERT INTO scores (work_id, studio_id, score) SELECT id, studio_id, score FROM works WHERE score <> '';
ALTER TABLE works DROP COLUMN score;
