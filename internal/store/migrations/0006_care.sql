-- A line stays when its take is deleted, and goes with the family.
CREATE TABLE access_log (
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	student_id TEXT NOT NULL,
	take_id TEXT NOT NULL,
	by_id TEXT NOT NULL,
	role TEXT NOT NULL,
	what TEXT NOT NULL,
	at BIGINT NOT NULL,
	FOREIGN KEY (studio_id, family_id, student_id) REFERENCES students (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX access_log_student ON access_log (studio_id, family_id, student_id, at);

-- A receipt names no family.
CREATE TABLE receipts (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	what TEXT NOT NULL,
	by_role TEXT NOT NULL,
	takes BIGINT NOT NULL,
	files BIGINT NOT NULL,
	students BIGINT NOT NULL,
	at BIGINT NOT NULL
);
CREATE INDEX receipts_studio ON receipts (studio_id, at);

-- Files that must go; without references, since what they belonged to is gone.
CREATE TABLE doomed (
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	media_id TEXT NOT NULL, -- '' for all files of the family
	PRIMARY KEY (studio_id, family_id, media_id)
);
