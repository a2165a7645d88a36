INSERT INTO lessons (id, studio_id, family_id, student_id, day, words, version, saved_at, sent_at) VALUES
	('v0000000000000000000000001', 's0000000000000000000000001', 'f0000000000000000000000001', 'c0000000000000000000000001', '1970-01-01', 'Well done.', 2, 2000000, 3000000);
INSERT INTO assignments (id, studio_id, family_id, lesson_id, place, work_id, from_bar, to_bar, goals, what_to_do) VALUES
	('a0000000000000000000000001', 's0000000000000000000000001', 'f0000000000000000000000001', 'v0000000000000000000000001', 0, 'w0000000000000000000000001', '1', '4', '{"TempoBpm":60}', 'Slowly.');
