-- When the clock of what is kept was looked at last, and since when without a jump; 0 for never.
ALTER TABLE studios ADD COLUMN looked_at BIGINT NOT NULL DEFAULT 0;
ALTER TABLE studios ADD COLUMN looked_since BIGINT NOT NULL DEFAULT 0;
