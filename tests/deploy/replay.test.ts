import { readFileSync } from 'node:fs';
import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { loadRigFile } from '../../collector/config/load.ts';
import { temporaryFolder } from '../../deploy/bars/processes.ts';
import { replay } from '../../deploy/replay.ts';
import { SocQuantiles } from '../../shared/schema/projection.ts';
import { ROOT } from '../helpers/source-files.ts';

const RECORDING = join(ROOT, 'tests/fixtures/recordings/ridge-two-hours.jsonl.gz');
const recorded = () => gunzipSync(readFileSync(RECORDING)).toString().trimEnd().split('\n');

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
beforeAll(async () => {
  folder = await temporaryFolder();
});
afterAll(() => folder.remove());

async function linesOf(recording: string) {
  const { file } = await loadRigFile(join(ROOT, 'tests/fixtures/rigs/ridge.yaml'));
  const lines: string[] = [];
  const bad: number[] = [];
  await replay({ file, recording, write: (line) => lines.push(line), onBadLine: (lineNumber) => bad.push(lineNumber), onFault: (what) => expect.fail(what) });
  return { lines, bad, parsed: lines.map((line) => JSON.parse(line)) };
}

test('two replays of one recording give the same lines, byte for byte', async () => {
  const [one, other] = [await linesOf(RECORDING), await linesOf(RECORDING)];
  expect(one.lines).toEqual(other.lines);
});

test('it writes a projection on every ten-minute mark, with the keys of the format, and a summary last', async () => {
  const { parsed } = await linesOf(RECORDING);
  const projections = parsed.filter(({ kind }) => kind === 'projection');
  const marks = projections.map(({ tMs }) => tMs);
  expect(marks).toEqual(marks.map((_, index) => Math.ceil(marks[0] / 600_000) * 600_000 + index * 600_000));
  for (const projection of projections) {
    expect(Object.keys(projection)).toEqual('kind tMs socPct socSigmaPct sunrise lowPoint takeover floorPct belowFloorProbability nights'.split(' '));
    SocQuantiles.parse(projection.sunrise);
    SocQuantiles.parse(projection.lowPoint);
  }
  const summary = parsed.at(-1);
  expect(Object.keys(summary)).toEqual(['kind', 'messages', 'readings', 'rejected', 'seconds']);
  const times = recorded().map((line) => JSON.parse(line).t);
  expect(summary).toMatchObject({ kind: 'summary', messages: times.length, seconds: Math.round((times.at(-1) - times[0]) / 1000) });
});

test('a bad line is told and counted and changes nothing else', async () => {
  const good = recorded();
  const path = join(folder.path, 'bad.jsonl');
  await writeFile(path, [...good.slice(0, 100), '{"t":', ...good.slice(100)].join('\n'));
  const clean = await linesOf(RECORDING);
  const spoilt = await linesOf(path);
  expect(spoilt.bad).toEqual([101]);
  expect(spoilt.lines.slice(0, -1)).toEqual(clean.lines.slice(0, -1));
  expect(spoilt.parsed.at(-1).rejected).toEqual({ ...clean.parsed.at(-1).rejected, 'bad-line': 1 });
});
