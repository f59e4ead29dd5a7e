import { readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { storeFiles } from '../../../collector/store/store-files.ts';
import { everySecond, reading, START_MS } from '../../contract/readings.ts';
import { sqliteUnderTest } from './sqlite-under-test.ts';

const ABOUT = { kind: 'backup', id: 'about' };
const SECRET = 'a-secret-that-must-not-leave';
const document = (kind: string, id: string, body = '{}') => ({ kind, id, tMs: 5, body });

let made: Awaited<ReturnType<typeof sqliteUnderTest>>;
let to: string;
beforeEach(async () => {
  made = await sqliteUnderTest();
  to = join(made.folder, 'copy');
  await made.store.open();
});
afterEach(async () => {
  await made.store.close();
  await made.remove();
});

describe('a copy of a store', () => {
  test('is whole and of one moment, while the store goes on writing', async () => {
    const { store, path } = made;
    let count = 0;
    let isCopying = true;
    await store.append(everySecond(Array.from({ length: 20_000 }, (_, i) => i)));
    const writing = (async () => {
      // A pair each time: whoever sees one without the other has seen half a transaction.
      for (; isCopying; count += 1) await store.put([document('left', `${count}`), document('right', `${count}`)]);
    })();
    await storeFiles.copy(path, to, [], [document('backup', 'about', 'hello')]);
    isCopying = false;
    await writing;
    expect(count).toBeGreaterThan(0);
    expect(await storeFiles.inspect(to, ABOUT)).toEqual({ verdict: 'whole', nights: 0, about: 'hello' });
    const db = new Database(to);
    const [left, right] = ['left', 'right'].map((kind) => db.prepare('SELECT count(*) FROM documents WHERE kind = ?').pluck().get(kind));
    expect(left).toBe(right);
    expect(db.prepare('SELECT sum(count) FROM journal').pluck().get() as number).toBe(20_000);
    db.close();
    // And the store has lost nothing by it.
    expect((await store.list('left', 0, 10)).length).toBe(count);
  });

  test('is for its owner alone to read from its first byte on, whatever else the folder holds', async () => {
    await storeFiles.copy(made.path, to, [], []);
    expect(statSync(to).mode & 0o777).toBe(0o600);
    await expect(storeFiles.copy(made.path, to, [], [])).rejects.toMatchObject({ code: 'EEXIST' });
    expect((await storeFiles.inspect(to, ABOUT)).verdict).toBe('whole');
  });

  test('holds no byte of what is left out, not even of what was removed from the store before', async () => {
    const { store, path } = made;
    await store.put([
      document('paired-device', 'a', JSON.stringify({ note: SECRET })),
      document('night', 'n'),
      document('paired-device', 'b', `${SECRET}-two`),
    ]);
    await store.remove('paired-device', 'b');
    await storeFiles.copy(path, to, ['paired-device'], []);
    expect(readFileSync(to).includes(SECRET)).toBe(false);
    expect((await storeFiles.inspect(to, ABOUT)).nights).toBe(1);
    await storeFiles.copy(path, `${to}-with`, [], []);
    expect(readFileSync(`${to}-with`).includes(SECRET)).toBe(true);
  });

  test('can be made while the store is closed, and goes on as a store', async () => {
    const { store, path } = made;
    await store.append([reading({ value: 26.5 })]);
    await store.close();
    await storeFiles.copy(path, to, [], [document('backup', 'about')]);
    await storeFiles.adopt(to, ABOUT, null, []);
    writeFileSync(path, readFileSync(to));
    await store.open();
    expect((await store.latest('heron', START_MS))[0]?.value).toBe(26.5);
    expect(await store.get('backup', 'about')).toBeNull();
    expect(made.warnings).toEqual([]);
  });

  test('of nothing is an error, and leaves nothing at the place named', async () => {
    await expect(storeFiles.copy(join(made.folder, 'none'), to, [], [])).rejects.toMatchObject({ code: 'SQLITE_CANTOPEN' });
  });
});

describe('a file that came from anywhere', () => {
  const verdict = async () => (await storeFiles.inspect(to, ABOUT)).verdict;
  const changed = (sql: string) => {
    const db = new Database(to);
    db.exec(sql);
    db.close();
  };
  beforeEach(async () => {
    await made.store.append(everySecond(Array.from({ length: 5000 }, (_, i) => i)));
    await storeFiles.copy(made.path, to, [], []);
  });

  test('is foreign when it is none of ours, whatever it is', async () => {
    for (const content of ['', 'hello', 'x'.repeat(100_000)]) {
      writeFileSync(to, content);
      expect(await verdict()).toBe('foreign');
    }
  });

  test.each([
    ['a trigger', 'CREATE TRIGGER t AFTER INSERT ON documents BEGIN DELETE FROM hours; END'],
    ['another table', 'CREATE TABLE more (a)'],
    ['a missing table', 'DROP TABLE days'],
  ])('is foreign with %s in it', async (_, sql) => {
    expect(await verdict()).toBe('whole');
    changed(sql);
    expect(await verdict()).toBe('foreign');
  });

  test('is newer when its layout is not known here', async () => {
    changed('INSERT INTO schema_version (version, applied_ms) VALUES (99, 1)');
    expect(await verdict()).toBe('newer');
  });

  test('is damaged when it was cut off, or when something in it was overwritten', async () => {
    const whole = readFileSync(to);
    writeFileSync(to, whole.subarray(0, Math.floor(whole.length / 2)));
    expect(await verdict()).toBe('damaged');
    whole.fill(7, 40_000, 60_000);
    writeFileSync(to, whole);
    expect(await verdict()).toBe('damaged');
  });
});

test('documents of some kinds are taken over from another store in place of its own', async () => {
  const { store, path } = made;
  await store.put([document('paired-device', 'old', 'of the backup'), document('night', 'n', 'of the backup')]);
  await storeFiles.copy(path, to, [], []);
  await store.remove('paired-device', 'old');
  await store.put([document('paired-device', 'new', 'of this box'), document('night', 'n', 'of this box')]);
  await store.close();
  await storeFiles.adopt(to, ABOUT, path, ['paired-device']);
  const db = new Database(to);
  expect(db.prepare('SELECT kind, id, body FROM documents ORDER BY kind').all()).toEqual([
    { kind: 'night', id: 'n', body: 'of the backup' },
    { kind: 'paired-device', id: 'new', body: 'of this box' },
  ]);
  db.close();
});
