-- A file may belong to a lesson, or to a student alone, and not only to a take.
ALTER TABLE media RENAME TO media_of_takes;
DROP INDEX media_once;
DROP INDEX media_take;
DROP INDEX media_of;
DROP INDEX media_sent;
DROP INDEX media_unclean;
CREATE TABLE media (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	student_id TEXT NOT NULL,
	take_id TEXT, -- NULL where it is of none; else it goes with the take
	lesson_id TEXT, -- NULL where it is of none; else it goes with the lesson
	kind TEXT NOT NULL CHECK (kind IN ('original', 'playable', 'poster', 'peaks', 'remark', 'clip', 'answer', 'film', 'voice', 'recording')),
	what TEXT NOT NULL, -- of a clip: which stretch of which take
	type TEXT NOT NULL,
	bytes BIGINT NOT NULL,
	sha256 TEXT NOT NULL,
	clean BIGINT NOT NULL CHECK (clean IN (0, 1)),
	sent_sha256 TEXT NOT NULL,
	made_at BIGINT NOT NULL,
	FOREIGN KEY (studio_id, family_id, student_id) REFERENCES students (studio_id, family_id, id) ON DELETE CASCADE,
	FOREIGN KEY (studio_id, family_id, take_id) REFERENCES takes (studio_id, family_id, id) ON DELETE CASCADE,
	FOREIGN KEY (studio_id, family_id, lesson_id) REFERENCES lessons (studio_id, family_id, id) ON DELETE CASCADE
);
INSERT INTO media (id, studio_id, family_id, student_id, take_id, lesson_id, kind, what, type, bytes, sha256, clean, sent_sha256, made_at)
	SELECT m.id, m.studio_id, m.family_id, t.student_id, m.take_id, NULL, m.kind, '', m.type, m.bytes, m.sha256, m.clean, m.sent_sha256, t.arrived_at
	FROM media_of_takes AS m JOIN takes AS t ON t.id = m.take_id;
DROP TABLE media_of_takes;
CREATE UNIQUE INDEX media_once ON media (take_id, kind) WHERE kind IN ('original', 'playable', 'poster', 'peaks');
CREATE UNIQUE INDEX media_clips ON media (lesson_id, what) WHERE kind = 'clip';
CREATE INDEX media_take ON media (studio_id, family_id, take_id);
CREATE INDEX media_lesson ON media (studio_id, lesson_id) WHERE lesson_id IS NOT NULL;
CREATE INDEX media_lesson_of ON media (studio_id, family_id, lesson_id);
CREATE INDEX media_student ON media (studio_id, family_id, student_id, made_at);
CREATE INDEX media_of ON media (take_id);
CREATE INDEX media_sent ON media (studio_id, family_id, sent_sha256) WHERE kind = 'original';
CREATE INDEX media_unclean ON media (studio_id) WHERE clean = 0 AND kind IN ('remark', 'answer', 'voice', 'recording');

-- What was tapped at home. Ids are made by the phone, so they count within the family.
CREATE TABLE taps (
	id TEXT NOT NULL,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	student_id TEXT NOT NULL,
	assignment_id TEXT NOT NULL, -- '' for none; a draft that was taken back may lose it
	by_id TEXT NOT NULL,
	kind TEXT NOT NULL,
	at BIGINT NOT NULL, -- by the phone, within reason
	came_at BIGINT NOT NULL,
	clean BIGINT NOT NULL CHECK (clean IN (0, 1)),
	bpm DOUBLE PRECISION NOT NULL,
	seconds DOUBLE PRECISION NOT NULL,
	words TEXT NOT NULL,
	media_id TEXT NOT NULL, -- '' for none
	is_right BIGINT NOT NULL CHECK (is_right IN (0, 1)),
	answered_at BIGINT NOT NULL, -- 0 while it is not answered
	keep_until BIGINT NOT NULL,
	PRIMARY KEY (studio_id, family_id, id),
	FOREIGN KEY (studio_id, family_id, student_id) REFERENCES students (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX taps_student ON taps (studio_id, family_id, student_id);
CREATE INDEX taps_by_student ON taps (studio_id, student_id, at, id);
CREATE INDEX taps_open ON taps (studio_id, at) WHERE answered_at = 0 AND kind IN ('hurt', 'question', 'voice');
CREATE INDEX taps_clock ON taps (studio_id, keep_until);
