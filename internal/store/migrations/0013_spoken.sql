-- Recorded remarks that still hold place and device: a few, for a moment.
CREATE INDEX media_unclean ON media (studio_id) WHERE kind = 'remark' AND clean = 0;
