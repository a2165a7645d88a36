INSERT INTO studios (id, name, keep_days, founded_at) VALUES ('s0000000000000000000000001', 'Lindenhof', 400, 1000000);
INSERT INTO families (id, studio_id, name, since) VALUES ('f0000000000000000000000001', 's0000000000000000000000001', 'Abel', 1000000);
INSERT INTO people (id, studio_id, family_id, role, name) VALUES ('p0000000000000000000000001', 's0000000000000000000000001', NULL, 'teacher', 'Ada'),
	('p0000000000000000000000002', 's0000000000000000000000001', 'f0000000000000000000000001', 'coach', 'Parent');
INSERT INTO students (id, studio_id, family_id, name, media, since) VALUES ('c0000000000000000000000001', 's0000000000000000000000001', 'f0000000000000000000000001', 'Mira', 'video', 1000000);
INSERT INTO consents (id, studio_id, family_id, person_id, what, keep_days, who, given_at)
	VALUES ('c0000000000000000000000002', 's0000000000000000000000001', 'f0000000000000000000000001', 'p0000000000000000000000002', 'takes', 90, 'teacher', 1000000);
INSERT INTO invitations (id, studio_id, family_id, hash, what, keep_days, who, made_at, expires_at, redeemed_at)
	VALUES ('n0000000000000000000000001', 's0000000000000000000000001', 'f0000000000000000000000001', 'an invitation', 'takes', 90, 'teacher', 1000000, 9000000, 2000000);
INSERT INTO devices (id, studio_id, family_id, person_id, name, hash, bound_at, revoked_at)
	VALUES ('d0000000000000000000000001', 's0000000000000000000000001', NULL, 'p0000000000000000000000001', 'desk', 'a device', 1000000, 0);
