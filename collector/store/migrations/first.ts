/**
 * The first layout. New readings and rollups lie in the `fresh_` tables in the order of time, so that a commit writes a page or two
 * whatever the number of signals; now and then they are settled into tables in the order of signals, which read one signal fast.
 * A minute may stand in both rollup tables; its rows add up.
 *
 * `slot` is 0 for a device's time and the arrival's number plus 1 for a time of arrival. `run` and `arrival_seq` are null for the latter.
 */
export const first = `
  CREATE TABLE runs (run INTEGER PRIMARY KEY, opened_ms INTEGER NOT NULL) STRICT;

  CREATE TABLE signals (
    signal_id INTEGER PRIMARY KEY, rig_id TEXT NOT NULL, name TEXT NOT NULL, UNIQUE (rig_id, name)
  ) STRICT;

  CREATE TABLE fresh_readings (
    ts_ms INTEGER NOT NULL, signal_id INTEGER NOT NULL, slot INTEGER NOT NULL,
    value REAL NOT NULL, suspect INTEGER NOT NULL, reason TEXT, run INTEGER, arrival_seq INTEGER,
    PRIMARY KEY (ts_ms, signal_id, slot)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE readings (
    signal_id INTEGER NOT NULL, ts_ms INTEGER NOT NULL, slot INTEGER NOT NULL,
    value REAL NOT NULL, suspect INTEGER NOT NULL, reason TEXT, run INTEGER, arrival_seq INTEGER,
    PRIMARY KEY (signal_id, ts_ms, slot)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE fresh_minutes (
    minute INTEGER NOT NULL, signal_id INTEGER NOT NULL,
    min REAL NOT NULL, max REAL NOT NULL, sum REAL NOT NULL, count INTEGER NOT NULL,
    PRIMARY KEY (minute, signal_id)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE minutes (
    signal_id INTEGER NOT NULL, minute INTEGER NOT NULL,
    min REAL NOT NULL, max REAL NOT NULL, sum REAL NOT NULL, count INTEGER NOT NULL,
    PRIMARY KEY (signal_id, minute)
  ) STRICT, WITHOUT ROWID;

  CREATE TABLE documents (
    kind TEXT NOT NULL, id TEXT NOT NULL, ts_ms INTEGER NOT NULL, body TEXT NOT NULL, PRIMARY KEY (kind, id)
  ) STRICT;
  CREATE INDEX documents_by_time ON documents (kind, ts_ms, id);
`;
