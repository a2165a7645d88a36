-- What the teacher recorded of a lesson, item by item.
CREATE TABLE answers (
	lesson_id TEXT NOT NULL,
	assignment_id TEXT NOT NULL, -- '' for what is said at the top
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	media_id TEXT NOT NULL,
	duration_s DOUBLE PRECISION NOT NULL, -- 0 until it was measured
	captions TEXT NOT NULL,
	made_at BIGINT NOT NULL,
	PRIMARY KEY (lesson_id, assignment_id),
	FOREIGN KEY (studio_id, family_id, lesson_id) REFERENCES lessons (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX answers_lesson ON answers (studio_id, family_id, lesson_id);

-- The same in one.
CREATE TABLE films (
	lesson_id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	media_id TEXT NOT NULL, -- '' while there is none
	duration_s DOUBLE PRECISION NOT NULL,
	chapters TEXT NOT NULL, -- JSON
	state TEXT NOT NULL CHECK (state IN ('making', 'ready', 'failed')),
	why TEXT NOT NULL,
	FOREIGN KEY (studio_id, family_id, lesson_id) REFERENCES lessons (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX films_lesson ON films (studio_id, family_id, lesson_id);
