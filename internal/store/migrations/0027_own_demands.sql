-- What a child's own fingering asks of the hands, for its plans, as work_plans has it for everybody's: JSON, null until
-- the worker has worked it out. It is asked for what holds only.
ALTER TABLE own_fingerings ADD COLUMN demand TEXT NOT NULL DEFAULT 'null';
CREATE INDEX own_fingerings_unread ON own_fingerings (studio_id, kept_at, id) WHERE held_at <> 0 AND ended_at = 0 AND fits = 1 AND demand = 'null';
