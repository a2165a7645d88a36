CREATE TABLE works (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	title TEXT NOT NULL,
	composer TEXT NOT NULL,
	exercise BIGINT NOT NULL CHECK (exercise IN (0, 1)),
	recipe TEXT NOT NULL,
	score TEXT NOT NULL, -- MusicXML
	rights TEXT NOT NULL,
	added_at BIGINT NOT NULL,
	UNIQUE (studio_id, id)
);

CREATE TABLE collections (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	name TEXT NOT NULL,
	UNIQUE (studio_id, id)
);

CREATE TABLE collection_items (
	studio_id TEXT NOT NULL,
	collection_id TEXT NOT NULL,
	place BIGINT NOT NULL,
	work_id TEXT NOT NULL,
	PRIMARY KEY (studio_id, collection_id, work_id),
	FOREIGN KEY (studio_id, collection_id) REFERENCES collections (studio_id, id) ON DELETE CASCADE,
	FOREIGN KEY (studio_id, work_id) REFERENCES works (studio_id, id)
);

-- What must be known before a work of the same collection.
CREATE TABLE collection_after (
	studio_id TEXT NOT NULL,
	collection_id TEXT NOT NULL,
	work_id TEXT NOT NULL,
	after_id TEXT NOT NULL,
	PRIMARY KEY (studio_id, collection_id, work_id, after_id),
	FOREIGN KEY (studio_id, collection_id, work_id) REFERENCES collection_items (studio_id, collection_id, work_id) ON DELETE CASCADE,
	FOREIGN KEY (studio_id, collection_id, after_id) REFERENCES collection_items (studio_id, collection_id, work_id) ON DELETE CASCADE
);
