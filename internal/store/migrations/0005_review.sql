CREATE TABLE hearings (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	take_id TEXT NOT NULL,
	version TEXT NOT NULL, -- of the contract
	json TEXT NOT NULL,
	heard_at BIGINT NOT NULL,
	UNIQUE (studio_id, family_id, take_id, id),
	FOREIGN KEY (studio_id, family_id, take_id) REFERENCES takes (studio_id, family_id, id) ON DELETE CASCADE
);

CREATE TABLE corrections (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	take_id TEXT NOT NULL,
	hearing_id TEXT NOT NULL,
	by_id TEXT NOT NULL,
	kind TEXT NOT NULL,
	what TEXT NOT NULL, -- JSON
	made_at BIGINT NOT NULL,
	FOREIGN KEY (studio_id, family_id, take_id, hearing_id) REFERENCES hearings (studio_id, family_id, take_id, id) ON DELETE CASCADE
);
CREATE INDEX corrections_hearing ON corrections (studio_id, family_id, take_id, hearing_id);

CREATE TABLE remarks (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	take_id TEXT NOT NULL,
	by_id TEXT NOT NULL,
	anchor TEXT NOT NULL, -- JSON
	words TEXT NOT NULL,
	media_id TEXT NOT NULL,
	made_at BIGINT NOT NULL,
	FOREIGN KEY (studio_id, family_id, take_id) REFERENCES takes (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX remarks_take ON remarks (studio_id, family_id, take_id);
