INSERT INTO media (id, studio_id, family_id, student_id, lesson_id, kind, what, type, bytes, sha256, clean, sent_sha256, made_at) VALUES
	('m0000000000000000000000002', 's0000000000000000000000001', 'f0000000000000000000000001', 'c0000000000000000000000001', 'v0000000000000000000000001', 'answer', '', 'video/webm', 12, 'another sum', 1, '', 3000000);
INSERT INTO answers (lesson_id, assignment_id, studio_id, family_id, media_id, duration_s, captions, made_at) VALUES
	('v0000000000000000000000001', '', 's0000000000000000000000001', 'f0000000000000000000000001', 'm0000000000000000000000002', 0, 'Well done.', 3000000);
INSERT INTO films (lesson_id, studio_id, family_id, media_id, duration_s, chapters, state, why) VALUES
	('v0000000000000000000000001', 's0000000000000000000000001', 'f0000000000000000000000001', '', 0, 'null', 'making', '');
