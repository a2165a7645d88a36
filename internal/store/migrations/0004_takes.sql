CREATE TABLE takes (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	student_id TEXT NOT NULL,
	assignment_id TEXT, -- NULL until somebody said what it is for
	by_id TEXT NOT NULL,
	state TEXT NOT NULL CHECK (state IN ('arriving', 'waiting', 'being-heard', 'ready', 'needs-look')),
	why TEXT NOT NULL,
	announced_at BIGINT NOT NULL,
	arrived_at BIGINT NOT NULL, -- 0 while it is arriving
	keep_until BIGINT NOT NULL,
	answered_at BIGINT NOT NULL, -- 0 while it is not answered
	UNIQUE (studio_id, family_id, id),
	FOREIGN KEY (studio_id, family_id, student_id) REFERENCES students (studio_id, family_id, id) ON DELETE CASCADE,
	FOREIGN KEY (studio_id, family_id, assignment_id) REFERENCES assignments (studio_id, family_id, id)
);
CREATE INDEX takes_in_order ON takes (studio_id, announced_at, id);
CREATE INDEX takes_family ON takes (studio_id, family_id, announced_at, id);
CREATE INDEX takes_student ON takes (studio_id, family_id, student_id);
CREATE INDEX takes_assignment ON takes (studio_id, family_id, assignment_id);
CREATE INDEX takes_state ON takes (studio_id, state, announced_at, id);
CREATE INDEX takes_clock ON takes (studio_id, keep_until);

CREATE TABLE media (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	take_id TEXT NOT NULL,
	kind TEXT NOT NULL CHECK (kind IN ('original', 'playable', 'poster', 'peaks', 'remark')),
	type TEXT NOT NULL,
	bytes BIGINT NOT NULL,
	sha256 TEXT NOT NULL,
	FOREIGN KEY (studio_id, family_id, take_id) REFERENCES takes (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE UNIQUE INDEX media_once ON media (take_id, kind) WHERE kind <> 'remark';
CREATE INDEX media_take ON media (studio_id, family_id, take_id);
CREATE INDEX media_bytes ON media (studio_id, family_id, sha256);
