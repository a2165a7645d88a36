-- How adults are told: by e-mail once the address is confirmed, and by their browser's own push.
ALTER TABLE people ADD COLUMN email TEXT NOT NULL DEFAULT '';
ALTER TABLE people ADD COLUMN email_at BIGINT NOT NULL DEFAULT 0; -- 0 until it is confirmed
ALTER TABLE people ADD COLUMN email_hash TEXT NOT NULL DEFAULT ''; -- of the secret that confirms it; '' none
ALTER TABLE people ADD COLUMN email_asked BIGINT NOT NULL DEFAULT 0;
ALTER TABLE people ADD COLUMN email_off TEXT NOT NULL DEFAULT ''; -- the secret under every mail that stops them
ALTER TABLE people ADD COLUMN note_names TEXT NOT NULL DEFAULT 'letters' CHECK (note_names IN ('letters', 'do-re-mi'));
CREATE UNIQUE INDEX people_email_hash ON people (email_hash) WHERE email_hash <> '';
CREATE UNIQUE INDEX people_email_off ON people (email_off) WHERE email_off <> '';
ALTER TABLE students ADD COLUMN tell_hearing BIGINT NOT NULL DEFAULT 0 CHECK (tell_hearing IN (0, 1));

CREATE TABLE push_addresses (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	family_id TEXT, -- NULL for the teacher
	person_id TEXT NOT NULL REFERENCES people (id) ON DELETE CASCADE,
	device_id TEXT NOT NULL UNIQUE REFERENCES devices (id) ON DELETE CASCADE,
	doc TEXT NOT NULL, -- JSON
	added_at BIGINT NOT NULL,
	FOREIGN KEY (studio_id, family_id, person_id) REFERENCES people (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX push_addresses_family ON push_addresses (studio_id, family_id, person_id);
CREATE INDEX push_addresses_person ON push_addresses (person_id);

CREATE TABLE notices (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	family_id TEXT, -- NULL for the teacher
	person_id TEXT NOT NULL REFERENCES people (id) ON DELETE CASCADE,
	kind TEXT NOT NULL,
	about TEXT NOT NULL, -- id of what it tells of
	at BIGINT NOT NULL, -- not before then
	sent_at BIGINT NOT NULL, -- 0 while it is not
	tries BIGINT NOT NULL,
	why TEXT NOT NULL,
	FOREIGN KEY (studio_id, family_id, person_id) REFERENCES people (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX notices_family ON notices (studio_id, family_id, person_id);
CREATE INDEX notices_person ON notices (person_id, kind) WHERE sent_at = 0;
CREATE INDEX notices_about ON notices (studio_id, about) WHERE sent_at = 0;
CREATE INDEX notices_clock ON notices (studio_id, at);

-- A friendly word between lessons.
CREATE TABLE nudges (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	student_id TEXT NOT NULL,
	language TEXT NOT NULL,
	words TEXT NOT NULL,
	sent_at BIGINT NOT NULL,
	FOREIGN KEY (studio_id, family_id, student_id) REFERENCES students (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX nudges_student ON nudges (studio_id, family_id, student_id, sent_at);

-- The teacher's own sentences.
CREATE TABLE phrases (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	words TEXT NOT NULL,
	used_at BIGINT NOT NULL, -- 0 never
	to_id TEXT REFERENCES students (id) ON DELETE SET NULL,
	times BIGINT NOT NULL
);
CREATE INDEX phrases_studio ON phrases (studio_id);
CREATE INDEX phrases_to ON phrases (to_id);
