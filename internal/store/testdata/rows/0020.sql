INSERT INTO work_plans (work_id, studio_id, demand, fresh, says) VALUES
	('w0000000000000000000000001', 's0000000000000000000000001', '{"Skills":["fourth finger"],"Load":1.5,"Bars":8,"LastBar":"8","Strain":false}', 1, '{"Joy":true}');
INSERT INTO studio_plans (studio_id, doc) VALUES
	('s0000000000000000000000001', '{"Groups":[{"name":"scales","limit_days":21}]}');
INSERT INTO student_plans (student_id, studio_id, family_id, doc) VALUES
	('c0000000000000000000000001', 's0000000000000000000000001', 'f0000000000000000000000001', '{"Minutes":[15,15,0,15,15,0,0]}');
INSERT INTO forecasts (id, studio_id, family_id, student_id, day, came, said) VALUES
	('o0000000000000000000000001', 's0000000000000000000000001', 'f0000000000000000000000001', 'c0000000000000000000000001', '2026-01-05', '', '{"Collection":"","Left":[],"Weeks":[1,2,3,4,5],"Missed":0}');
