CREATE TABLE studios (
	id TEXT PRIMARY KEY,
	name TEXT NOT NULL,
	keep_days BIGINT NOT NULL CHECK (keep_days > 0),
	founded_at BIGINT NOT NULL
);

CREATE TABLE families (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	name TEXT NOT NULL,
	since BIGINT NOT NULL,
	UNIQUE (studio_id, id)
);

CREATE TABLE people (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	family_id TEXT, -- NULL for the teacher
	role TEXT NOT NULL CHECK (role IN ('teacher', 'coach')),
	name TEXT NOT NULL,
	CHECK ((role = 'teacher') = (family_id IS NULL)),
	UNIQUE (studio_id, family_id, id),
	FOREIGN KEY (studio_id, family_id) REFERENCES families (studio_id, id) ON DELETE CASCADE
);

CREATE TABLE students (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	name TEXT NOT NULL,
	media TEXT NOT NULL CHECK (media IN ('sound', 'hands', 'video')),
	since BIGINT NOT NULL,
	UNIQUE (studio_id, family_id, id),
	FOREIGN KEY (studio_id, family_id) REFERENCES families (studio_id, id) ON DELETE CASCADE
);

CREATE TABLE consents (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	person_id TEXT NOT NULL,
	what TEXT NOT NULL,
	keep_days BIGINT NOT NULL CHECK (keep_days > 0),
	who TEXT NOT NULL,
	given_at BIGINT NOT NULL,
	FOREIGN KEY (studio_id, family_id, person_id) REFERENCES people (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX consents_person ON consents (studio_id, family_id, person_id);

-- Secrets are stored as hashes.
CREATE TABLE invitations (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	hash TEXT NOT NULL UNIQUE,
	what TEXT NOT NULL,
	keep_days BIGINT NOT NULL,
	who TEXT NOT NULL,
	made_at BIGINT NOT NULL,
	expires_at BIGINT NOT NULL,
	redeemed_at BIGINT NOT NULL, -- 0 while it is open
	FOREIGN KEY (studio_id, family_id) REFERENCES families (studio_id, id) ON DELETE CASCADE
);
CREATE INDEX invitations_family ON invitations (studio_id, family_id);

CREATE TABLE devices (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	family_id TEXT, -- NULL for the teacher
	person_id TEXT NOT NULL REFERENCES people (id) ON DELETE CASCADE,
	name TEXT NOT NULL,
	hash TEXT NOT NULL UNIQUE,
	bound_at BIGINT NOT NULL,
	revoked_at BIGINT NOT NULL, -- 0 while it is good
	FOREIGN KEY (studio_id, family_id, person_id) REFERENCES people (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX devices_family ON devices (studio_id, family_id, person_id);
CREATE INDEX devices_person ON devices (person_id);
