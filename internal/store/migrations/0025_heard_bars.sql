-- What was heard in a take bar by bar, as JSON; '' where its hearing was not counted yet.
ALTER TABLE takes ADD COLUMN bars TEXT NOT NULL DEFAULT '';
CREATE INDEX takes_uncounted ON takes (studio_id, arrived_at) WHERE bars = '' AND summary <> 'null';
-- What scores ask is worked out again, now with the bars that ask it.
UPDATE work_plans SET fresh = 0;
