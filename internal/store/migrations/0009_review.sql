ALTER TABLE remarks ADD COLUMN student_id TEXT NOT NULL DEFAULT '';
ALTER TABLE remarks ADD COLUMN remedy TEXT NOT NULL DEFAULT ''; -- id in the book
UPDATE remarks SET student_id = (SELECT t.student_id FROM takes AS t WHERE t.id = remarks.take_id);
CREATE INDEX remarks_to ON remarks (studio_id, student_id, made_at, id);
CREATE INDEX remarks_said ON remarks (studio_id, student_id, remedy, made_at);

CREATE INDEX lessons_sent ON lessons (studio_id, student_id, sent_at);
CREATE INDEX lessons_by_day ON lessons (studio_id, student_id, day, id);
CREATE INDEX lessons_in_order ON lessons (studio_id, day, id);
CREATE INDEX assignments_of ON assignments (lesson_id, place);
CREATE INDEX assignments_in ON assignments (studio_id, lesson_id);
CREATE INDEX assignments_work ON assignments (studio_id, work_id);
DROP INDEX lessons_student;
CREATE INDEX lessons_family ON lessons (studio_id, family_id, student_id, day);

-- The teacher's own words in the book of remedies.
CREATE TABLE own_remedies (
	studio_id TEXT NOT NULL REFERENCES studios (id),
	id TEXT NOT NULL,
	doc TEXT NOT NULL, -- JSON
	PRIMARY KEY (studio_id, id)
);

CREATE TABLE passages (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	work_id TEXT NOT NULL,
	name TEXT NOT NULL,
	from_bar TEXT NOT NULL,
	to_bar TEXT NOT NULL,
	FOREIGN KEY (studio_id, work_id) REFERENCES works (studio_id, id)
);
CREATE INDEX passages_work ON passages (studio_id, work_id);
CREATE INDEX collection_items_work ON collection_items (studio_id, work_id);

ALTER TABLE devices ADD COLUMN seen_at BIGINT NOT NULL DEFAULT 0; -- to the day
