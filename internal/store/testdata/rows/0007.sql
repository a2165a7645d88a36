INSERT INTO set_ups (hash, made_at) VALUES ('a set-up', 1000000);
INSERT INTO passwords (person_id, studio_id, hash, set_at) VALUES ('p0000000000000000000000001', 's0000000000000000000000001', '$argon2id$', 1000000);
INSERT INTO recovery_codes (hash, studio_id, person_id, made_at) VALUES ('a code', 's0000000000000000000000001', 'p0000000000000000000000001', 1000000);
INSERT INTO passkeys (id, studio_id, person_id, name, credential, added_at, used_at) VALUES ('q0000000000000000000000001', 's0000000000000000000000001', 'p0000000000000000000000001', 'phone', '{}', 1000000, 0);
