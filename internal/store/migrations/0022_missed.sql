-- The hour at which a draft was to go out by itself and was not fit to; 0 for none.
ALTER TABLE lessons ADD COLUMN missed_at BIGINT NOT NULL DEFAULT 0;
