-- Of two lessons of one day the one that was sent last comes first, and before it what was not sent yet.
DROP INDEX lessons_by_day;
DROP INDEX lessons_in_order;
CREATE INDEX lessons_by_day ON lessons (studio_id, student_id, day, (CASE sent_at WHEN 0 THEN 9223372036854775807 ELSE sent_at END), id);
CREATE INDEX lessons_in_order ON lessons (studio_id, day, (CASE sent_at WHEN 0 THEN 9223372036854775807 ELSE sent_at END), id);
