UPDATE remarks SET student_id = 'c0000000000000000000000001', remedy = '';
INSERT INTO own_remedies (studio_id, id, doc) VALUES ('s0000000000000000000000001', 'late-thumb', '{}');
INSERT INTO passages (id, studio_id, work_id, name, from_bar, to_bar) VALUES ('y0000000000000000000000001', 's0000000000000000000000001', 'w0000000000000000000000001', 'end', '7', '8');
