CREATE TABLE lessons (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	student_id TEXT NOT NULL,
	day TEXT NOT NULL,
	words TEXT NOT NULL,
	version BIGINT NOT NULL,
	saved_at BIGINT NOT NULL,
	sent_at BIGINT NOT NULL, -- 0 while it is a draft
	UNIQUE (studio_id, family_id, id),
	FOREIGN KEY (studio_id, family_id, student_id) REFERENCES students (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX lessons_student ON lessons (studio_id, family_id, student_id);

CREATE TABLE assignments (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	lesson_id TEXT NOT NULL,
	place BIGINT NOT NULL,
	work_id TEXT NOT NULL,
	from_bar TEXT NOT NULL,
	to_bar TEXT NOT NULL,
	goals TEXT NOT NULL, -- JSON
	what_to_do TEXT NOT NULL,
	UNIQUE (studio_id, family_id, id),
	FOREIGN KEY (studio_id, family_id, lesson_id) REFERENCES lessons (studio_id, family_id, id) ON DELETE CASCADE,
	FOREIGN KEY (studio_id, work_id) REFERENCES works (studio_id, id)
);
CREATE INDEX assignments_lesson ON assignments (studio_id, family_id, lesson_id);
