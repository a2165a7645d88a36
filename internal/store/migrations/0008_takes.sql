ALTER TABLE takes ADD COLUMN file_name TEXT NOT NULL DEFAULT '';
ALTER TABLE takes ADD COLUMN note TEXT NOT NULL DEFAULT '';
ALTER TABLE takes ADD COLUMN hurt BIGINT NOT NULL DEFAULT 0 CHECK (hurt IN (0, 1));
ALTER TABLE takes ADD COLUMN work_id TEXT REFERENCES works (id);
ALTER TABLE takes ADD COLUMN bytes BIGINT NOT NULL DEFAULT 0; -- announced, then of what arrived
ALTER TABLE takes ADD COLUMN duration_s DOUBLE PRECISION NOT NULL DEFAULT 0;
ALTER TABLE takes ADD COLUMN concerns TEXT NOT NULL DEFAULT 'null'; -- JSON
ALTER TABLE takes ADD COLUMN sounds_like TEXT NOT NULL DEFAULT 'null'; -- JSON
ALTER TABLE takes ADD COLUMN same_as TEXT NOT NULL DEFAULT ''; -- a take of the same family
ALTER TABLE takes ADD COLUMN summary TEXT NOT NULL DEFAULT 'null'; -- JSON, of the newest hearing
ALTER TABLE takes ADD COLUMN turn BIGINT NOT NULL DEFAULT 0; -- counts how often the ear began
ALTER TABLE takes ADD COLUMN changed_at BIGINT NOT NULL DEFAULT 0;
CREATE INDEX media_of ON media (take_id);
UPDATE takes SET changed_at = CASE WHEN arrived_at > announced_at THEN arrived_at ELSE announced_at END,
	work_id = (SELECT a.work_id FROM assignments AS a WHERE a.id = takes.assignment_id),
	bytes = COALESCE((SELECT m.bytes FROM media AS m WHERE m.take_id = takes.id AND m.kind = 'original'), 0);
CREATE INDEX takes_by_student ON takes (studio_id, student_id, announced_at, id);
CREATE INDEX takes_heard_of ON takes (studio_id, student_id, arrived_at);
CREATE INDEX takes_by_work ON takes (studio_id, work_id, announced_at, id);
CREATE INDEX takes_by_assignment ON takes (assignment_id);
CREATE INDEX takes_unanswered ON takes (studio_id, arrived_at) WHERE answered_at = 0 AND arrived_at <> 0;
CREATE INDEX takes_changed ON takes (studio_id, changed_at, id);
DROP INDEX takes_student;

-- The original loses its metadata at arrival; the sum of what was sent stays, to know it again.
ALTER TABLE media ADD COLUMN clean BIGINT NOT NULL DEFAULT 0 CHECK (clean IN (0, 1));
ALTER TABLE media ADD COLUMN sent_sha256 TEXT NOT NULL DEFAULT '';
UPDATE media SET sent_sha256 = sha256 WHERE kind = 'original';
DROP INDEX media_bytes;
CREATE INDEX media_sent ON media (studio_id, family_id, sent_sha256) WHERE kind = 'original';
CREATE INDEX hearings_of ON hearings (take_id, heard_at);
CREATE INDEX corrections_of ON corrections (take_id);
CREATE INDEX remarks_of ON remarks (take_id);

-- What a take sounds like, small, to know the same sound in another file.
CREATE TABLE prints (
	take_id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	student_id TEXT NOT NULL,
	print BYTEA NOT NULL,
	arrived_at BIGINT NOT NULL,
	FOREIGN KEY (studio_id, family_id, take_id) REFERENCES takes (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX prints_student ON prints (studio_id, student_id, arrived_at);
CREATE INDEX prints_take ON prints (studio_id, family_id, take_id);

-- Files that came without a student's name. They belong to no family until somebody said whose they are.
CREATE TABLE unsorted (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL REFERENCES studios (id),
	file_name TEXT NOT NULL,
	type TEXT NOT NULL,
	bytes BIGINT NOT NULL,
	sha256 TEXT NOT NULL,
	arrived_at BIGINT NOT NULL,
	keep_until BIGINT NOT NULL,
	state TEXT NOT NULL CHECK (state IN ('waiting', 'being-heard', 'ready', 'needs-look')),
	why TEXT NOT NULL,
	guesses TEXT NOT NULL -- JSON
);
CREATE INDEX unsorted_in_order ON unsorted (studio_id, arrived_at, id);
CREATE INDEX unsorted_clock ON unsorted (studio_id, keep_until);

-- What belongs to no family, the teacher's own takes, is filed under the studio's own id: on a shelf
-- that stands among the families so that every take and file has its place, and is in no list of them.
INSERT INTO families (id, studio_id, name, since) SELECT id, id, '', founded_at FROM studios;
INSERT INTO students (id, studio_id, family_id, name, media, since) SELECT id, id, id, '', 'video', founded_at FROM studios;
