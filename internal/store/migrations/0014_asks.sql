-- Kinds of assignments: what they ask, and all that only a page looks at, as JSON.
ALTER TABLE assignments ADD COLUMN ask TEXT NOT NULL DEFAULT '';
ALTER TABLE assignments ADD COLUMN more TEXT NOT NULL DEFAULT '{}'; -- JSON
ALTER TABLE assignments ADD COLUMN model_id TEXT NOT NULL DEFAULT ''; -- a take on the shelf
CREATE INDEX assignments_model ON assignments (studio_id, model_id) WHERE model_id <> '';

-- Where an assignment is of no work, it stands under the studio's own id, as other things do that belong nowhere.
INSERT INTO works (id, studio_id, title, composer, exercise, recipe, rights, added_at) SELECT id, id, '', '', 0, '', '', founded_at FROM studios;

ALTER TABLE lessons ADD COLUMN send_at BIGINT NOT NULL DEFAULT 0; -- of a draft: when it goes out by itself
ALTER TABLE lessons ADD COLUMN opened_at BIGINT NOT NULL DEFAULT 0; -- 0 until the family saw it
CREATE INDEX lessons_due ON lessons (studio_id, send_at) WHERE sent_at = 0 AND send_at <> 0;
