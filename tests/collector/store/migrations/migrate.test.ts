import Database from 'better-sqlite3';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { MIGRATIONS, migrate } from '../../../../collector/store/migrations/migrate.ts';

let db: Database.Database;
beforeEach(() => {
  db = new Database(':memory:');
});
afterEach(() => {
  db.close();
});

test('a fresh file goes through every layout once', () => {
  expect(migrate(db)).toBe(0);
  expect(migrate(db)).toBe(MIGRATIONS.length);
});

test('a file with an earlier layout goes through the later ones and keeps its rows', () => {
  const steps = ['CREATE TABLE places (name TEXT) STRICT', 'ALTER TABLE places ADD COLUMN height_m REAL'];
  migrate(db, steps.slice(0, 1));
  db.exec(`INSERT INTO places VALUES ('ford')`);
  migrate(db, steps);
  expect(db.prepare('SELECT * FROM places').all()).toEqual([{ name: 'ford', height_m: null }]);
});

test('a layout that fails half way leaves the file at the one before', () => {
  const steps = ['CREATE TABLE places (name TEXT) STRICT', 'CREATE TABLE roads (name TEXT) STRICT; CREATE TABLE places (name TEXT) STRICT'];
  expect(() => migrate(db, steps)).toThrow('already exists');
  expect(db.prepare(`SELECT name FROM sqlite_schema WHERE name = 'roads'`).all()).toEqual([]);
  expect(() => migrate(db, steps)).toThrow('already exists');
  expect(db.prepare('SELECT max(version) FROM schema_version').pluck().get()).toBe(1);
});

test('a layout of a newer Dawnhold is refused', () => {
  migrate(db, ['CREATE TABLE a (x INTEGER) STRICT', 'CREATE TABLE b (x INTEGER) STRICT']);
  expect(() => migrate(db, ['CREATE TABLE a (x INTEGER) STRICT'])).toThrow('layout 2');
});
