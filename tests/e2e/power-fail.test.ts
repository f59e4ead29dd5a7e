import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { expect, test } from 'vitest';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { snapshotOf } from '../../deploy/bars/live-snapshot.ts';
import { startBuilt, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { STORE_FILE } from '../../deploy/start/data-folder.ts';
import { ROOT } from '../helpers/source-files.ts';

const RIG = `
rig: { id: cut, name: Cut }
place: { latitude: 39.6, longitude: -8.1, timeZone: Europe/Lisbon }
bank: { cells: 8, capacityAh: 280 }
broker: { port: 0 }
store: { commitEvery: 60 s }
signals:
  bank.voltage: { topic: cut/v }
  bank.current: { topic: cut/a }
`;

/** What is kept of the voltage after the program was killed, with or without the news that the power may fail. */
async function keptAfterKill(powerFails: boolean): Promise<readonly number[]> {
  const folder = await temporaryFolder();
  const data = join(folder.path, 'data');
  try {
    await writeFile(join(folder.path, 'rig.yaml'), RIG);
    const program = await startBuilt(['--rig', join(folder.path, 'rig.yaml'), '--data', data], ROOT);
    const port = await until(() => /listens on 127\.0\.0\.1:(\d+)/.exec(program.said())?.[1], 'the broker', program.said);
    const board = await connectAsync(`mqtt://127.0.0.1:${port}`);
    await board.publishAsync('cut/v', '26.4', { qos: 1 });
    await until(async () => (await snapshotOf(program.url)).states.some(({ value }) => value === 26.4), 'the reading', program.said);
    if (powerFails) {
      process.kill(program.child.pid as number, 'SIGPWR');
      await until(() => program.said().includes('SIGPWR'), 'the answer to the signal', program.said);
      // It answers before it writes; what it then says shows that it runs on.
      await board.publishAsync('cut/v', '26.5', { qos: 1 });
      await until(async () => (await snapshotOf(program.url)).states.some(({ value }) => value === 26.5), 'the next reading', program.said);
    }
    await board.endAsync(true);
    await program.end('SIGKILL');
    const store = createSqliteStore({ path: join(data, STORE_FILE), log: { warn: (_, message) => expect.fail(message) } });
    await store.open();
    const { value } = await store.range('cut', 'bank.voltage', 0, Number.MAX_SAFE_INTEGER);
    await store.close();
    return value;
  } finally {
    await folder.remove();
  }
}

test('what waits for the next commit is kept at once when the power is said to fail, and lost to a cut that nobody told of', async () => {
  expect(await keptAfterKill(true)).toEqual([26.4]);
  expect(await keptAfterKill(false)).toEqual([]);
});
