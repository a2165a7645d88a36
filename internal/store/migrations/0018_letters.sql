-- What sounded beside the child while a take was recorded.
ALTER TABLE takes ADD COLUMN partner TEXT NOT NULL DEFAULT '{}'; -- JSON

-- Letters to parents about a stretch of time.
CREATE TABLE letters (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	student_id TEXT NOT NULL,
	from_day TEXT NOT NULL,
	to_day TEXT NOT NULL,
	parts TEXT NOT NULL, -- JSON
	version BIGINT NOT NULL,
	saved_at BIGINT NOT NULL,
	sent_at BIGINT NOT NULL, -- 0 while it is a draft
	FOREIGN KEY (studio_id, family_id, student_id) REFERENCES students (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX letters_student ON letters (studio_id, family_id, student_id, saved_at);
