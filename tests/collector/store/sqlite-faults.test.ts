import { mkdir, open, readdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createSqliteStore } from '../../../collector/store/sqlite.ts';
import { AppError } from '../../../shared/errors.ts';
import { everySecond, reading, START_MS } from '../../contract/readings.ts';
import { sqliteUnderTest } from './sqlite-under-test.ts';

const FAR_MS = START_MS + 86_400_000;
const failureOf = async (outcome: Promise<unknown>): Promise<AppError> => {
  const error: unknown = await outcome.then(
    () => null,
    (reason: unknown) => reason,
  );
  expect(error).toBeInstanceOf(AppError);
  return error as AppError;
};

/** Overwrites all of a file but its first page, as a dying card may. */
async function ruin(path: string): Promise<void> {
  const file = await open(path, 'r+');
  const { size } = await file.stat();
  await file.write(Buffer.alloc(size - 4096, 0xa5), 0, size - 4096, 4096);
  await file.close();
}

/** Overwrites only a file's last page, which holds readings. */
async function ruinLastPage(path: string): Promise<void> {
  const file = await open(path, 'r+');
  const { size } = await file.stat();
  await file.write(Buffer.alloc(4096, 0xa5), 0, 4096, size - 4096);
  await file.close();
}

describe('SQLite store in trouble', () => {
  let made: Awaited<ReturnType<typeof sqliteUnderTest>>;
  beforeEach(async () => {
    made = await sqliteUnderTest();
  });
  afterEach(async () => {
    await made.store.close();
    await made.remove();
  });

  test('a file that is no database is set aside under a name with the time, reported, and a fresh one takes its place', async () => {
    const { store, path, folder, warnings } = made;
    await writeFile(path, 'this was a database before the card died'.repeat(200));
    await store.open();
    await store.append([reading({ value: 1 })]);
    expect((await store.range('heron', 'bank.voltage', 0, FAR_MS)).value).toEqual([1]);
    expect(warnings).toEqual([expect.stringContaining('set aside')]);
    const aside = (await readdir(folder)).filter((name) => /^rig\.db\.damaged-\d{4}-\d\d-\d\dT/.test(name));
    expect(aside).toHaveLength(1);
  });

  test('a database with ruined pages is set aside at the next start', async () => {
    const { store, path, warnings } = made;
    await store.open();
    await store.append(everySecond(Array.from({ length: 5000 }, (_, at) => at)));
    await store.close();
    await ruin(path);
    await store.open();
    expect(warnings).toHaveLength(1);
    expect(await store.latest('heron', FAR_MS)).toEqual([]);
  });

  test('a guest of a damaged file is refused and leaves it where it is', async () => {
    const { path, folder } = made;
    await writeFile(path, 'this was a database before the card died'.repeat(200));
    const guest = createSqliteStore({ path, log: { warn: (_, message) => expect.fail(message) }, guest: true });
    expect((await failureOf(guest.open())).code).toBe('STORE_FAILED');
    expect(await readdir(folder)).toEqual(['rig.db']);
  });

  test('a guest opens a file with ruined pages without looking through it', async () => {
    const { store, path, folder } = made;
    await store.open();
    await store.append(everySecond(Array.from({ length: 5000 }, (_, at) => at)));
    await store.retain('heron', 0);
    await store.put([{ kind: 'device', id: 'tablet', tMs: START_MS, body: '{}' }]);
    await store.close();
    await ruinLastPage(path);
    const guest = createSqliteStore({ path, log: { warn: (_, message) => expect.fail(message) }, guest: true });
    await guest.open();
    expect(await guest.get('device', 'tablet')).toBe('{}');
    await guest.close();
    expect((await readdir(folder)).filter((name) => name.includes('damaged'))).toEqual([]);
  });

  test('a file that is ruined while it is in use is replaced when a query comes upon it, and keeping goes on', async () => {
    const { store, path, warnings } = made;
    await store.open();
    await store.append(everySecond(Array.from({ length: 25_000 }, (_, at) => at)));
    await store.retain('heron', 0);
    // What is still in the write-ahead log would be read from there.
    await store.close();
    await store.open();
    await ruin(path);
    const error = await failureOf(store.range('heron', 'bank.voltage', 0, FAR_MS));
    expect(error.code).toBe('STORE_FAILED');
    expect(error.message).toContain('damaged');
    expect(warnings).toHaveLength(1);
    await store.append([reading({ value: 2 })]);
    expect((await store.range('heron', 'bank.voltage', 0, FAR_MS)).value).toEqual([2]);
  });

  test('while another program holds the file an append fails and says why; the next one after that is kept', async () => {
    const { store, path } = made;
    await store.open();
    const other = new Database(path);
    other.exec('BEGIN IMMEDIATE');
    const error = await failureOf(store.append([reading({ value: 1 })]));
    expect(error).toMatchObject({ code: 'STORE_FAILED', cause: { code: 'SQLITE_BUSY' } });
    expect(error.message).toContain('another program holds the file');
    other.exec('ROLLBACK');
    other.close();
    await store.append([reading({ value: 2 })]);
    expect((await store.range('heron', 'bank.voltage', 0, FAR_MS)).value).toEqual([2]);
  });

  test('a folder that is not there fails the opening, and once it is there the store opens', async () => {
    const { folder } = made;
    const later = createSqliteStore({ path: join(folder, 'later', 'rig.db'), log: { warn: () => undefined } });
    const error = await failureOf(later.open());
    expect(error.code).toBe('STORE_FAILED');
    expect((await failureOf(later.append([reading()]))).code).toBe('STORE_CLOSED');
    await mkdir(join(folder, 'later'));
    await later.open();
    await later.append([reading({ value: 1 })]);
    expect(await later.latest('heron', FAR_MS)).toHaveLength(1);
    await later.close();
  });

  test('a file written by a newer Dawnhold is left alone', async () => {
    const { store, path, folder, warnings } = made;
    await store.open();
    await store.append([reading({ value: 1 })]);
    await store.close();
    const other = new Database(path);
    other.exec('INSERT INTO schema_version VALUES (99, 0)');
    other.close();
    expect((await failureOf(store.open())).message).toContain('layout 99');
    expect(warnings).toEqual([]);
    expect((await readdir(folder)).filter((name) => name.includes('damaged'))).toEqual([]);
    const again = new Database(path, { readonly: true });
    expect(again.prepare('SELECT sum(count) FROM journal').pluck().get()).toBe(1);
    again.close();
  });
});
