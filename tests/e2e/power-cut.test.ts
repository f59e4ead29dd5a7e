import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { snapshotOf } from '../../deploy/bars/live-snapshot.ts';
import { type Running, startBuilt, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { ROOT } from '../helpers/source-files.ts';

const RIG = `
rig: { id: cut, name: Cut }
place: { latitude: 39.6, longitude: -8.1, timeZone: Europe/Lisbon }
bank: { cells: 8, capacityAh: 280 }
broker: { port: 0 }
signals:
  bank.voltage: { topic: cut/v }
  bank.current: { topic: cut/a }
alarms:
  - { id: low-point, onDelay: 0 s }
`;
const GIVEN = /alarm low-point/;

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let program: (Running & { url: string }) | null = null;
const start = () => startBuilt(['--rig', join(folder.path, 'rig.yaml'), '--data', join(folder.path, 'data')], ROOT);

beforeAll(async () => {
  folder = await temporaryFolder();
  await writeFile(join(folder.path, 'rig.yaml'), RIG);
});

afterAll(async () => {
  await program?.end();
  await folder.remove();
});

test('an alarm that stands survives kill -9 as it was and is not given a second time', async () => {
  const first = await start();
  program = first;
  await until(() => GIVEN.test(first.said()), 'the alarm that nothing is known', first.said);
  const [before] = (await snapshotOf(first.url)).alarms;
  expect(before).toMatchObject({ id: 'low-point', condition: 'unknown', lifecycle: 'unacknowledged' });
  await first.end('SIGKILL');

  const second = await start();
  program = second;
  const later = await until(
    async () => {
      const snapshot = await snapshotOf(second.url);
      return snapshot.bank && snapshot;
    },
    'the first step after the cut',
    second.said,
  );
  expect(later.alarms[0]).toMatchObject({ lifecycle: before?.lifecycle, occurrence: before?.occurrence, sinceMs: before?.sinceMs });
  expect(second.said()).not.toMatch(GIVEN);
});
