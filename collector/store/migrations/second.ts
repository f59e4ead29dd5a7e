/**
 * The second layout. What is new lies in `journal`, one row a commit with all its readings. Each hour of a signal is sealed into one row of
 * `hours`: its readings in one block (null: dropped), and rollups of its minutes. `days` holds a day's quarter hours
 * and the whole of it, `day_hours` its hours; `day_id` is signal_id * 2^28 + number of the day, so that the days of a signal lie together.
 * Of the first layout, `readings` and `minutes` are emptied hour by hour; what lies in them counts until then, and nothing is added to them.
 *
 * `at_ms` is the time of the commit's middle reading, `kept_from` the first minute of which all readings are there, `changed` how
 * often the hour was written. An hour gets its number when it is first sealed, so that hours of one time lie together.
 */
export const second = `
  CREATE TABLE journal (
    commit_id INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL, count INTEGER NOT NULL, readings BLOB NOT NULL
  ) STRICT;

  CREATE TABLE hours (
    hour_id INTEGER PRIMARY KEY, signal_id INTEGER NOT NULL, hour INTEGER NOT NULL, kept_from INTEGER NOT NULL, changed INTEGER NOT NULL,
    count INTEGER NOT NULL, minutes BLOB NOT NULL, readings BLOB
  ) STRICT;
  CREATE UNIQUE INDEX hours_by_signal ON hours (signal_id, hour);
  CREATE INDEX hours_with_readings ON hours (hour) WHERE readings IS NOT NULL;

  CREATE TABLE days (day_id INTEGER PRIMARY KEY, total BLOB NOT NULL, quarters BLOB NOT NULL) STRICT;
  CREATE TABLE day_hours (day_id INTEGER PRIMARY KEY, hours BLOB NOT NULL) STRICT;

  INSERT INTO readings (signal_id, ts_ms, slot, value, suspect, reason, run, arrival_seq)
    SELECT signal_id, ts_ms, slot, value, suspect, reason, run, arrival_seq FROM fresh_readings ORDER BY signal_id, ts_ms, slot;
  DELETE FROM fresh_readings;
  INSERT INTO minutes (signal_id, minute, min, max, sum, count)
    SELECT signal_id, minute, min, max, sum, count FROM fresh_minutes WHERE true ORDER BY signal_id, minute
    ON CONFLICT DO UPDATE SET
      min = min(min, excluded.min), max = max(max, excluded.max), sum = sum + excluded.sum, count = count + excluded.count;
  DELETE FROM fresh_minutes;
`;
