import { expect, test } from 'vitest';
import { createBinHistory } from '../../../deploy/runtime/bins.ts';
import { createEngineLoop } from '../../../deploy/runtime/engine-loop.ts';
import { createPendingJobs } from '../../../deploy/runtime/jobs.ts';
import { initialAlarms } from '../../../engine/alarms/reduce.ts';
import { noBox } from '../../../engine/alarms/seen.ts';
import { initialState } from '../../../engine/state.ts';
import { type RigModel, STEP_MS } from '../../../engine/types.ts';
import type { EpochMs } from '../../../shared/units.ts';
import { HOUR_MS, NOON_MS, readingsAt, rigOf, timeAt } from '../../helpers/engine-rig.ts';

const rig = rigOf();

/** A loop whose jobs give nothing, and a bank that is read every 10 s. */
function loopUnderTest(model: () => RigModel = () => rig) {
  const jobs = createPendingJobs({ run: () => null }, (_job, error) => expect.fail(String(error)));
  const steps: EpochMs[] = [];
  const loop = createEngineLoop({
    engine: initialState(rig, NOON_MS),
    alarms: initialAlarms(),
    lastStepMs: NOON_MS,
    alarmsFromMs: NOON_MS,
    jobs,
    bins: createBinHistory(),
    rigFor: model,
    rules: () => [],
    box: () => noBox,
    timeOf: (stepMs) => timeAt(stepMs),
    onStep: ({ time }) => void steps.push(time.wallMs),
  });
  const read = async (fromMs: EpochMs, count: number, currentA: number) => {
    for (let tMs = fromMs; tMs < fromMs + count * STEP_MS; tMs += STEP_MS) {
      loop.offer(tMs, readingsAt(tMs, { 'bank.voltage': 26.4, 'bank.current': currentA }), null);
      await loop.advanceTo(tMs);
    }
  };
  return { loop, jobs, steps, read };
}

test('after the clock is set back the engine goes on with what is read by the new time', async () => {
  const { loop, steps, read } = loopUnderTest();
  await read(NOON_MS + STEP_MS, 30, -12);
  const { bank } = loop.engine();
  const backMs = NOON_MS - 3 * HOUR_MS;
  loop.jumpTo(backMs);
  expect(loop.engine().bank.belief).toEqual(bank.belief);
  await read(backMs + STEP_MS, 30, -30);
  expect(loop.engine().bank.current).toEqual({ tMs: backMs + 29 * STEP_MS, valueA: -30 });
  expect(loop.engine().latest['bank.current']?.value).toBe(-30);
  expect(loop.engine().bank.belief?.socFrac).toBeLessThan(bank.belief?.socFrac ?? 0);
  expect(steps.at(-1)).toBe(backMs + 29 * STEP_MS);
});

test('a jump of the clock leaves no job behind whose step never comes', async () => {
  const { loop, jobs, read } = loopUnderTest();
  await read(NOON_MS + STEP_MS, 1, -12);
  await loop.advanceTo(NOON_MS + 2 * STEP_MS);
  expect(jobs.open()).not.toEqual([]);
  loop.jumpTo(NOON_MS + 48 * HOUR_MS);
  expect(jobs.open()).toEqual([]);
});

test('a signal that an edit takes out of the rig file no longer speaks: what the file says holds, whatever was still on its way', async () => {
  const every10S = (...signals: string[]) => new Map(['bank.voltage', 'bank.current', ...signals].map((signal) => [signal, 10]));
  let model = rigOf({ everyS: every10S('place.lat', 'place.lon', 'minisplit.mode'), place: null });
  const { loop } = loopUnderTest(() => model);
  const told = { 'place.lat': 40, 'place.lon': 5, 'minisplit.mode': 0 };
  loop.offer(NOON_MS + STEP_MS, readingsAt(NOON_MS + STEP_MS, told), null);
  await loop.advanceTo(NOON_MS + 2 * STEP_MS);
  expect(loop.engine().place).toEqual({ latitudeDeg: 40, longitudeDeg: 5 });
  loop.offer(NOON_MS + 2 * STEP_MS, readingsAt(NOON_MS + 2 * STEP_MS, { ...told, 'bank.voltage': 26.4 }), null);
  const place = { latitudeDeg: 10, longitudeDeg: 0 };
  model = rigOf({ everyS: every10S(), place });
  await loop.advanceTo(NOON_MS + 4 * STEP_MS);
  expect(loop.engine().place).toEqual(place);
  expect(Object.keys(loop.engine().latest)).toEqual(['bank.voltage']);
});
