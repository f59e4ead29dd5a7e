import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { parseRigFile } from '../../../collector/config/load.ts';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { createBookPort } from '../../../deploy/start/book-port.ts';
import { createLogRing } from '../../../deploy/start/log-ring.ts';
import type { RigStore } from '../../../shared/ports.ts';
import { RigBook } from '../../../shared/schema/rig-book.ts';

const TEXT = `
rig: { id: wren, name: Wren, settingUp: true }
bank: { cells: 8, capacityAh: 280 }
broker: { url: "mqtts://box", caFile: /etc/ssl/own.pem }
signals:
  bank.voltage: { topic: shunt, format: json, pointer: /v }
  weather.forecast: { topic: weather }
routes:
  hook: { kind: webhook, url: "https://hook.example/secret-part" }
`;

let folder: string;
let store: RigStore;
let asked = 0;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-box-'));
  const memory = createMemoryStore();
  asked = 0;
  store = {
    ...memory,
    facts: (rigId) => {
      asked += 1;
      return memory.facts(rigId);
    },
  };
  await store.open();
});
afterEach(() => rm(folder, { recursive: true, force: true }));

const boxPort = (kind: 'embedded' | 'memory' = 'embedded') =>
  createBookPort({
    rig: () => ({ file: parseRigFile(TEXT, 'rig.yaml'), edits: 'the demo is still starting', capacityLearnedAh: 271.4 }),
    store,
    rigId: 'wren',
    kind,
    dataFolder: folder,
    ring: createLogRing(),
  });

describe('the book of the rig', () => {
  test('holds what is set up, without secrets and paths', async () => {
    const book = RigBook.parse(await boxPort().rigBook());
    expect(book).toMatchObject({ hash: null, whyFixed: 'the demo is still starting', setUp: false, capacityLearnedAh: 271.4 });
    expect(book.sections).toMatchObject({
      rig: { id: 'wren' },
      place: null,
      minisplit: null,
      bank: { floor: 20, confidence: 90 },
      broker: { url: 'mqtts://box' },
    });
    expect(book.signals).toMatchObject([{ name: 'bank.voltage', spec: { topic: 'shunt', pointer: '/v' } }]);
    expect(book.forecast).toMatchObject({ topic: 'weather' });
    expect(book.routes).toContainEqual({ name: 'hook', kind: 'webhook' });
    expect(JSON.stringify(book)).not.toMatch(/secret-part|own\.pem/);
  });

  test('tells of the box: versions, when it started, memory, and what is kept', async () => {
    await writeFile(join(folder, 'rig.sqlite'), 'x'.repeat(5000));
    await writeFile(join(folder, 'rig.sqlite-wal'), 'x'.repeat(700));
    await store.put([{ kind: 'night', id: 'a', tMs: 1, body: '{}' }]);
    const { versions, process: own, storage } = await boxPort().rigBook();
    expect(versions.map(({ version }) => version)).toEqual(expect.arrayContaining([expect.stringMatching(/^\d+\.\d+\.\d+$/), process.version]));
    expect(Math.abs(Date.now() - own.startedMs - 1000 * process.uptime())).toBeLessThan(5000);
    expect(own.memoryBytes).toBeGreaterThan(10_000_000);
    expect(storage).toMatchObject({ kind: 'embedded', bytes: 5700, oldestMs: null, documents: 1 });
    expect(storage.freeBytes).toBeGreaterThan(0);
    expect((await boxPort('memory').rigBook()).storage.bytes).toBe(0);
  });

  test('asks the store once for many looks, and again after a failure', async () => {
    const port = boxPort();
    await Promise.all([port.rigBook(), port.rigBook()]);
    await port.rigBook();
    expect(asked).toBe(1);
    const failing = { ...store, facts: () => (asked++ === 1 ? Promise.reject(new Error('gone')) : store.facts('wren')) };
    const other = createBookPort({
      rig: () => ({ file: parseRigFile(TEXT, 'rig.yaml'), edits: '', capacityLearnedAh: null }),
      store: failing,
      rigId: 'wren',
      kind: 'embedded',
      dataFolder: folder,
      ring: createLogRing(),
    });
    await expect(other.rigBook()).rejects.toThrow('gone');
    expect((await other.rigBook()).storage.documents).toBe(0);
  });
});
