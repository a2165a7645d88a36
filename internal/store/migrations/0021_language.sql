-- The language that an adult chose for what is read at home, and when: the last choice is the family's.
ALTER TABLE people ADD COLUMN language TEXT NOT NULL DEFAULT ''; -- '' the family's
ALTER TABLE people ADD COLUMN language_at BIGINT NOT NULL DEFAULT 0;
