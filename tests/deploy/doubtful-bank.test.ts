import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { temporaryFolder } from '../../deploy/bars/processes.ts';
import { replay } from '../../deploy/replay.ts';
import { RigFile } from '../../shared/schema/rig-file.ts';

/** Evening without sun: a fridge comes and goes over a steady load; from a time on another board measures it. */
const T0 = Date.UTC(2026, 10, 20, 20);
const EVERY_S = 10;
const CHANGE_S = 2 * 3600;
const END_S = 5 * 3600;

const file = RigFile.parse({
  rig: { id: 'heron', name: 'Heron' },
  place: { latitude: 39.6, longitude: -8.1, timeZone: 'Europe/Lisbon' },
  bank: { cells: 8, capacityAh: 280 },
  inverter: { ratedWatts: 2000 },
  signals: { 'bank.voltage': { topic: 's', format: 'json', pointer: '/v' }, 'bank.current': { topic: 's', format: 'json', pointer: '/i' } },
});

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
beforeAll(async () => {
  folder = await temporaryFolder();
});
afterAll(() => folder.remove());

/** Why the low-point alarm is unknown at the end of the evening; null when it is not. `sent`: what the other board makes of a current, A. */
async function unknownBecause(sent: (currentA: number) => number, fromS = CHANGE_S): Promise<string | null> {
  const recording = join(folder.path, 'evening.jsonl');
  const lines: string[] = [];
  for (let s = 0; s < END_S; s += EVERY_S) {
    const fridge = s % 1200 < 400;
    const currentA = -(2 + (fridge ? 5 : 0) + 0.1 * Math.sin(s));
    const voltageV = 26.6 - (0.1 * s) / END_S + currentA * 0.006;
    const payload = JSON.stringify({ v: Number(voltageV.toFixed(3)), i: Number((s < fromS ? currentA : sent(currentA)).toFixed(2)) });
    lines.push(JSON.stringify({ t: T0 + s * 1000, topic: 's', payload }));
  }
  await writeFile(recording, lines.join('\n'));
  const alarms: { id: string; condition: string; text: string }[] = [];
  const fail = (what: string) => expect.fail(what);
  await replay({
    file,
    recording,
    write: (line) => line.includes('"alarm"') && alarms.push(JSON.parse(line)),
    onBadLine: (_, why) => fail(why),
    onFault: fail,
  });
  const last = alarms.filter(({ id }) => id === 'low-point').at(-1);
  return last?.condition === 'unknown' ? last.text : null;
}

test('as long as the current can be believed the low point is known', async () => {
  expect(await unknownBecause((currentA) => currentA)).toBeNull();
});

test('a board that begins to send mA: nothing is said of the night, and why', async () => {
  expect(await unknownBecause((currentA) => 1000 * currentA)).toMatch(/not believed/);
});

test('an idle rig in mA, within every range, is no more believed', async () => {
  expect(await unknownBecause((currentA) => 200 * currentA)).toMatch(/not believed/);
});

test('wires swapped from the beginning: after some steps of load nothing is said of the night', async () => {
  expect(await unknownBecause((currentA) => -currentA, 0)).toMatch(/not believed/);
});
