-- What the program of this version writes of itself when a studio is opened.
INSERT INTO families (id, studio_id, name, since) VALUES ('s0000000000000000000000001', 's0000000000000000000000001', '', 1000000);
INSERT INTO students (id, studio_id, family_id, name, media, since) VALUES ('s0000000000000000000000001', 's0000000000000000000000001', 's0000000000000000000000001', '', 'video', 1000000);
UPDATE takes SET work_id = 'w0000000000000000000000001', bytes = 1234, changed_at = 5000000 WHERE id = 't0000000000000000000000001';
UPDATE takes SET changed_at = 6000000 WHERE id = 't0000000000000000000000002';
UPDATE media SET sent_sha256 = sha256;
INSERT INTO prints (take_id, studio_id, family_id, student_id, print, arrived_at) VALUES
	('t0000000000000000000000001', 's0000000000000000000000001', 'f0000000000000000000000001', 'c0000000000000000000000001', CAST('print' AS BYTEA), 5000000);
INSERT INTO unsorted (id, studio_id, file_name, type, bytes, sha256, arrived_at, keep_until, state, why, guesses) VALUES
	('z0000000000000000000000001', 's0000000000000000000000001', 'mira.mp4', 'video/mp4', 4, 'sum', 6000000, 9000000000000, 'waiting', '', 'null');
