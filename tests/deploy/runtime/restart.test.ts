import { join } from 'node:path';
import { beforeAll, describe, expect, test } from 'vitest';
import { loadRigFile } from '../../../collector/config/load.ts';
import { createWriter } from '../../../collector/ingest/writer.ts';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { projectionLine } from '../../../deploy/recording/output-lines.ts';
import { readRecording } from '../../../deploy/recording/read.ts';
import { createCore } from '../../../deploy/runtime/core.ts';
import { inlineRunner } from '../../../deploy/runtime/jobs.ts';
import { createKeeper } from '../../../deploy/runtime/keeper.ts';
import { loadPast } from '../../../deploy/runtime/resume.ts';
import type { RigStore } from '../../../shared/ports.ts';
import type { Message } from '../../../shared/schema/reading.ts';
import type { RigFile } from '../../../shared/schema/rig-file.ts';
import { ROOT } from '../../helpers/source-files.ts';

const LOOK_BACK = { ms: 3 * 86_400_000, filled: false };
const timeOf = (wallMs: number) => ({ wallMs, monoMs: wallMs, bootId: 'test', clockSure: true });
/** A store that outlives the run, as the one on disk does. */
const durableStore = async (): Promise<RigStore> => {
  const store = { ...createMemoryStore(), supports: { ...createMemoryStore().supports, durable: true } };
  await store.open();
  return store;
};

let file: RigFile;
let messages: readonly Message[];
beforeAll(async () => {
  ({ file } = await loadRigFile(join(ROOT, 'tests/fixtures/rigs/ridge.yaml')));
  const batches: Message[] = [];
  for await (const batch of readRecording(join(ROOT, 'tests/fixtures/recordings/ridge-two-hours.jsonl.gz'), { onBadLine: (_, why) => expect.fail(why) }))
    batches.push(...batch);
  messages = batches;
});

const pastOf = (store: RigStore, tMs: number) => loadPast(store, file.rig.id, [...file.signals.specs.keys()], timeOf(tMs), LOOK_BACK);

/** Runs from what the store knows over some messages and then stops dead: what was committed is there, nothing is tidied up. Gives its projections by time. */
async function runThenCut(store: RigStore, part: readonly Message[]): Promise<Map<number, string>> {
  const projections = new Map<number, string>();
  const past = await pastOf(store, part[0]?.tMs ?? 0);
  const fail = (error: unknown) => expect.fail(String(error));
  const writer = createWriter({ store, commitEveryMs: 5000, timers: { after: () => () => {} }, onFault: fail, onRecovered: () => {} });
  const core = createCore({
    file,
    writer,
    keeper: createKeeper({ store, rigId: file.rig.id, onFault: fail, onRecovered: () => {} }),
    run: (job, bins) => inlineRunner.run(job, bins, false),
    resume: past.resume,
    timeOf,
    onJobFault: (_job, error) => fail(error),
    onStep({ observation: { projection } }) {
      if (projection) projections.set(projection.tMs, JSON.stringify(projectionLine(projection)));
    },
  });
  for (const reading of past.readings) {
    await core.loop.advanceTo(reading.tMs);
    core.loop.offer(reading.tMs, [reading], null);
  }
  for (const message of part) {
    await core.loop.advanceTo(message.tMs);
    core.accept(message);
  }
  await writer.flush();
  return projections;
}

describe('after a power cut', () => {
  test.each([1, 333, 700, 1401])('at message %d the projections are those of a run without it', async (cut) => {
    const whole = await runThenCut(await durableStore(), messages);
    const store = await durableStore();
    const before = await runThenCut(store, messages.slice(0, cut));
    const after = await runThenCut(store, messages.slice(cut));
    expect(whole.size).toBeGreaterThanOrEqual(11);
    expect([...new Map([...before, ...after])]).toEqual([...whole]);
  });

  test('an engine state of another version is rebuilt from the stored readings', async () => {
    const store = await durableStore();
    await runThenCut(store, messages.slice(0, 1000));
    const kept = JSON.parse((await store.get('engine', file.rig.id)) ?? '{}');
    await store.put([{ kind: 'engine', id: file.rig.id, tMs: 0, body: JSON.stringify({ ...kept, engine: { ...kept.engine, version: -1 } }) }]);
    const { resume, readings } = await pastOf(store, messages[1000]?.tMs ?? 0);
    expect(resume.engine).toBeNull();
    expect(readings[0]?.tMs).toBe(messages.find(({ topic }) => topic !== 'ridge/van/forecast')?.tMs);
    expect(resume.lastStepMs).toBeLessThan(readings[0]?.tMs ?? 0);
  });

  test('a signal that comes ten times a second is read to its newest value, thinned to one a second', async () => {
    const store = await durableStore();
    const fromMs = 1_780_272_000_000;
    const count = 150_000;
    const reading = { rigId: file.rig.id, signal: 'bank.voltage', quality: 'ok', timeSource: 'device', arrivalSeq: 0 } as const;
    await store.append(Array.from({ length: count }, (_, i) => ({ ...reading, tMs: fromMs + i * 100, value: i })));
    const { readings } = await pastOf(store, fromMs + count * 100);
    expect(readings.at(-1)?.value).toBe(count - 1);
    expect(readings.slice(0, 3).map(({ value }) => value)).toEqual([9, 19, 29]);
    // What is left over after a full page is little enough to be taken whole.
    expect(readings).toHaveLength(10_000 + 50_000);
  });

  test('it is known for how long the program did not run, unless its clock is in doubt', async () => {
    const store = await durableStore();
    await runThenCut(store, messages.slice(0, 1000));
    const lastMs = Math.max(...(await store.latest(file.rig.id, Number.MAX_SAFE_INTEGER)).map(({ tMs }) => tMs));
    const later = await pastOf(store, lastMs + 20 * 60_000);
    expect(later.blind).toEqual({ fromMs: lastMs, untilMs: lastMs + 20 * 60_000 });
    expect(later.newest.map(({ signal }) => signal)).toContain('bank.voltage');
    expect((await pastOf(store, lastMs + 30_000)).blind).toBeNull();
    const unsure = { ...timeOf(lastMs + 20 * 60_000), clockSure: false };
    expect((await loadPast(store, file.rig.id, [], unsure, LOOK_BACK)).blind).toBeNull();
    expect((await pastOf(await durableStore(), lastMs)).blind).toBeNull();
  });

  test('a suspect reading is still suspect when it comes back from the store', async () => {
    const store = await durableStore();
    const tMs = 1_780_272_000_000;
    const flat = { rigId: file.rig.id, signal: 'bank.current', value: 0, timeSource: 'device' } as const;
    await store.append([
      { ...flat, tMs, quality: 'ok', arrivalSeq: 0 },
      { ...flat, tMs: tMs + 1000, quality: 'suspect', reason: 'flat', arrivalSeq: 1 },
    ]);
    expect((await pastOf(store, tMs + 5000)).readings.map(({ quality }) => quality)).toEqual(['ok', 'suspect']);
  });

  test('a clock that boots before the power went loses neither the charge in the bank nor what was learned', async () => {
    const store = await durableStore();
    await runThenCut(store, messages.slice(0, 1000));
    const kept = JSON.parse((await store.get('engine', file.rig.id)) ?? '{}');
    await store.put([{ kind: 'learned', id: file.rig.id, tMs: 0, body: JSON.stringify({ version: 1, nights: 7 }) }]);
    const { resume, readings } = await pastOf(store, kept.stepMs - 1_800_000);
    expect(resume.engine?.bank.belief).toEqual(kept.engine.bank.belief);
    expect(resume.engine?.learned?.nights).toBe(7);
    expect(resume.engine?.stepMs).toBe(resume.lastStepMs);
    expect(resume.lastStepMs).toBeLessThan(kept.stepMs);
    expect([readings, resume.jobs]).toEqual([[], []]);
  });
});
