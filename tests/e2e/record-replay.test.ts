import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { connectAsync } from 'mqtt';
import { expect, test } from 'vitest';
import { run, startMosquitto, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { ROOT } from '../helpers/source-files.ts';

const RIG = `
rig: { id: lake, name: Lake }
bank: { cells: 8, capacityAh: 280 }
signals:
  bank.voltage: { topic: lake/shunt, format: json, pointer: /v }
  bank.current: { topic: lake/shunt, format: json, pointer: /a }
  cabin.temperature: { topic: lake/cabin }
`;
const npm = (...args: string[]) => run('npm', ['run', '-s', ...args], { cwd: ROOT });

test('what npm run record takes from a real broker, npm run replay reads to the last message', async () => {
  const folder = await temporaryFolder();
  const broker = await startMosquitto(folder.path);
  const client = await connectAsync(broker.url);
  try {
    const [rig, recording, out] = ['rig.yaml', 'evening.jsonl.gz', 'out.jsonl'].map((name) => join(folder.path, name)) as [string, string, string];
    await writeFile(rig, RIG);
    await client.publishAsync('lake/cabin', '21.5', { retain: true });
    // Twice into one file: a recording is added to.
    for (const volts of [26.4, 26.5]) {
      const recorder = npm('record', '--', '--broker', broker.url, '--out', recording);
      await until(() => recorder.said().includes('broker connected'), 'the recorder', recorder.said);
      for (let i = 0; i < 20; i += 1) await client.publishAsync('lake/shunt', JSON.stringify({ v: volts, a: -i }), { qos: 1 });
      await client.publishAsync('lake/shunt', Buffer.from([0xff, 0x00]), { qos: 1 });
      await client.publishAsync('lake/other', 'on', { qos: 1 });
      // The recorder subscribes with quality 0: the broker has handed over all that came before this comes back to us.
      await client.subscribeAsync('lake/end');
      const ended = new Promise((resolve) => client.once('message', resolve));
      await client.publishAsync('lake/end', '1', { qos: 1 });
      await ended;
      await new Promise((resolve) => setTimeout(resolve, 1000));
      await recorder.end('SIGINT');
      expect(recorder.said()).toMatch(/2[34] messages in/);
    }
    const lines = gunzipSync(await readFile(recording))
      .toString()
      .trim()
      .split('\n');
    expect(lines.filter((line) => line.includes('"retained":true'))).toHaveLength(2);

    const replayed = npm('replay', '--', '--rig', rig, '--recording', recording, '--out', out);
    await until(() => replayed.child.exitCode !== null, 'the end of the replay', replayed.said);
    expect(replayed.child.exitCode, replayed.said()).toBe(0);
    const summary = JSON.parse((await readFile(out, 'utf8')).trim().split('\n').at(-1) ?? '');
    expect(summary).toMatchObject({ kind: 'summary', messages: lines.length, readings: 80, rejected: { 'not-utf8': 4 } });
  } finally {
    await client.endAsync();
    await broker.end();
    await folder.remove();
  }
});

test('a recording that is not there, and a rig file that is not, end with a clear line and exit code 1', async () => {
  const missing = npm('replay', '--', '--rig', 'nowhere.yaml', '--recording', 'nowhere.jsonl');
  const which = npm('record', '--', '--out', '/tmp/never-made.jsonl');
  await until(() => [missing, which].every(({ child }) => child.exitCode !== null), 'the end of both', missing.said);
  expect([missing.child.exitCode, which.child.exitCode]).toEqual([1, 1]);
  expect(missing.said()).toMatch(/there is no rig file nowhere\.yaml; name one with --rig/);
  expect(which.said()).toContain('Add --broker URL, or --rig FILE');
});
