-- What plans know of a work: what its score asks of the hands, and what the teacher says.
CREATE TABLE work_plans (
	work_id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	demand TEXT NOT NULL, -- JSON
	fresh BIGINT NOT NULL CHECK (fresh IN (0, 1)), -- 0 where the score was put since
	says TEXT NOT NULL, -- JSON
	FOREIGN KEY (studio_id, work_id) REFERENCES works (studio_id, id) ON DELETE CASCADE
);
CREATE INDEX work_plans_studio ON work_plans (studio_id, work_id);

CREATE TABLE studio_plans (
	studio_id TEXT PRIMARY KEY REFERENCES studios (id),
	doc TEXT NOT NULL -- JSON
);

CREATE TABLE student_plans (
	student_id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	doc TEXT NOT NULL, -- JSON
	FOREIGN KEY (studio_id, family_id, student_id) REFERENCES students (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX student_plans_family ON student_plans (studio_id, family_id, student_id);

-- Forecasts as they were made, to see how good they were.
CREATE TABLE forecasts (
	id TEXT PRIMARY KEY,
	studio_id TEXT NOT NULL,
	family_id TEXT NOT NULL,
	student_id TEXT NOT NULL,
	day TEXT NOT NULL,
	came TEXT NOT NULL, -- a day; '' not yet
	said TEXT NOT NULL, -- JSON
	FOREIGN KEY (studio_id, family_id, student_id) REFERENCES students (studio_id, family_id, id) ON DELETE CASCADE
);
CREATE INDEX forecasts_family ON forecasts (studio_id, family_id, student_id, day);
CREATE INDEX forecasts_studio ON forecasts (studio_id, day, id);
