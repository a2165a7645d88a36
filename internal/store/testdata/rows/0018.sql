INSERT INTO letters (id, studio_id, family_id, student_id, from_day, to_day, parts, version, saved_at, sent_at) VALUES
	('g0000000000000000000000001', 's0000000000000000000000001', 'f0000000000000000000000001', 'c0000000000000000000000001', '1970-01-01', '1970-03-31', 'null', 1, 5000000, 0);
