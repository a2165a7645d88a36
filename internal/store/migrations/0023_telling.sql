-- How far telling of a notice has come, so that a program that was killed on the way does not tell for ever.
ALTER TABLE notices ADD COLUMN state TEXT NOT NULL DEFAULT '' CHECK (state IN ('', 'telling', 'again', 'over'));
