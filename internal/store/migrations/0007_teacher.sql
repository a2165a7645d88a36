ALTER TABLE studios ADD COLUMN reply_days BIGINT NOT NULL DEFAULT 3 CHECK (reply_days > 0);
ALTER TABLE studios ADD COLUMN language TEXT NOT NULL DEFAULT 'en';

-- The one secret that opens a database without a studio.
CREATE TABLE set_ups (
	hash TEXT PRIMARY KEY,
	made_at BIGINT NOT NULL
);

CREATE TABLE passwords (
	person_id TEXT PRIMARY KEY REFERENCES people (id) ON DELETE CASCADE,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	hash TEXT NOT NULL, -- argon2id, with its salt and parameters
	set_at BIGINT NOT NULL
);
CREATE INDEX passwords_studio ON passwords (studio_id);

CREATE TABLE recovery_codes (
	hash TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	person_id TEXT NOT NULL REFERENCES people (id) ON DELETE CASCADE,
	made_at BIGINT NOT NULL
);
CREATE INDEX recovery_codes_person ON recovery_codes (studio_id, person_id);

CREATE TABLE passkeys (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	person_id TEXT NOT NULL REFERENCES people (id) ON DELETE CASCADE,
	name TEXT NOT NULL,
	credential TEXT NOT NULL, -- JSON
	added_at BIGINT NOT NULL,
	used_at BIGINT NOT NULL -- 0 while it was never used
);
CREATE INDEX passkeys_person ON passkeys (studio_id, person_id);
