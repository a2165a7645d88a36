-- What a student played, work by work.
CREATE INDEX takes_course ON takes (studio_id, student_id, work_id, announced_at);
