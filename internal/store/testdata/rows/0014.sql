-- What the program of this version writes of itself when a studio is opened, and a lesson of other kinds.
INSERT INTO works (id, studio_id, title, composer, exercise, recipe, rights, added_at) VALUES ('s0000000000000000000000001', 's0000000000000000000000001', '', '', 0, '', '', 1000000);
INSERT INTO assignments (id, studio_id, family_id, lesson_id, place, work_id, from_bar, to_bar, goals, what_to_do, ask, more) VALUES
	('a0000000000000000000000002', 's0000000000000000000000001', 'f0000000000000000000000001', 'v0000000000000000000000001', 1, 's0000000000000000000000001', '', '', '{}', 'A day without.', 'rest', '{"Minutes":5}');
