import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as passed } from 'node:timers/promises';
import { parseRigFile } from '../../collector/config/load.ts';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { rulesOf } from '../../engine/alarms/rule.ts';
import { closeBin, emptySums } from '../../engine/bins.ts';
import { rigModel } from '../../engine/rig-model.ts';
import { initialState } from '../../engine/state.ts';
import { BIN_MS, type Bin } from '../../engine/types.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import { RulePreviewQuestion } from '../../shared/schema/rule-preview.ts';
import { createPreviewPort } from '../runtime/preview-port.ts';
import { createPreviewThread, type PreviewRunner } from '../runtime/preview-thread.ts';
import type { Bar, Figure } from './bar.ts';
import { longestWaitDuring } from './waiting.ts';

const NOW_MS = Date.UTC(2026, 6, 1, 11);
const DAY_MS = 86_400_000;
const NIGHTS = 30;
const FROM_MS = NOW_MS - (NIGHTS + 2) * DAY_MS;
/** Two readings a minute, so that each has a least and a greatest. */
const EVERY_MS = 30_000;
/** So many of the slowest rules are measured, each the best of so many runs: what other programs take of the machine is not the preview's. */
const SLOWEST = 2;
const RUNS = 5;

export const rulePreviewBar: Bar = {
  name: 'rule-preview',
  what: `what a rule would have done over ${NIGHTS} nights, by the demo's rig file and a real store: the slowest of the built-in rules`,
  async measure() {
    const folder = await mkdtemp(join(tmpdir(), 'dawnhold-bar-'));
    const store = createSqliteStore({ path: join(folder, 'bar.sqlite'), log: { warn() {} } });
    const runner = createPreviewThread();
    try {
      const file = parseRigFile(await readFile(new URL('../demo/heron.yaml', import.meta.url), 'utf8'), 'heron.yaml');
      await store.open();
      await fill(store, file);
      const rig = { store, file, bins: past(), runner };
      const rules = rulesOf(file).filter(({ notWatched }) => notWatched === '');
      const timed: { id: string; ms: number }[] = [];
      for (const { id } of rules) timed.push({ id, ms: await askedMs(rig, id) });
      const slowest = timed.sort((a, b) => b.ms - a.ms).slice(0, SLOWEST);
      let [longestMs, waitMs, emptyMs] = [0, 0, Number.POSITIVE_INFINITY];
      for (const { id } of slowest) {
        const best = await bestOf(rig, id);
        longestMs = Math.max(longestMs, best.ms);
        waitMs = Math.max(waitMs, best.waitMs);
      }
      for (let run = 0; run < RUNS; run++) emptyMs = Math.min(emptyMs, await longestWaitDuring(() => passed(longestMs)));
      return [
        { name: `the slowest rule over ${NIGHTS} nights`, figure: longestMs / 1000, unit: 's', bar: 2, sense: 'most' },
        { name: 'the longest that a reading waits meanwhile', figure: waitMs, unit: 'ms', bar: 20, sense: 'most' },
        { name: 'the same without any', figure: emptyMs, unit: 'ms', bar: 20, sense: 'most' },
      ] satisfies Figure[];
    } finally {
      await runner.close();
      await store.close();
      await rm(folder, { recursive: true });
    }
  },
};

interface BarRig {
  readonly store: RigStore;
  readonly file: RigFile;
  readonly bins: readonly Bin[];
  readonly runner: PreviewRunner;
}

async function bestOf(rig: BarRig, id: string): Promise<{ ms: number; waitMs: number }> {
  const best = { ms: Number.POSITIVE_INFINITY, waitMs: Number.POSITIVE_INFINITY };
  for (let run = 0; run < RUNS; run++) {
    best.ms = Math.min(best.ms, await askedMs(rig, id));
    best.waitMs = Math.min(best.waitMs, await longestWaitDuring(async () => void (await askedMs(rig, id))));
  }
  return best;
}

/** How long a port that remembers nothing takes to answer, ms. */
async function askedMs({ store, file, bins, runner }: BarRig, id: string): Promise<number> {
  const rig = rigModel(file, file.place?.timeZone ?? 'UTC');
  const engine = initialState(rig, FROM_MS - DAY_MS);
  const between = (fromMs: number, toMs: number) => bins.filter(({ tMs }) => tMs >= fromMs && tMs < toMs);
  const live = { file: () => file, rig: () => rig, engine: () => engine, nowMs: () => NOW_MS };
  const port = createPreviewPort({ store, rigId: file.rig.id, bins: between, ...live, runner });
  const entry = file.alarms.find((one) => one.id === id) ?? { id };
  const fromMs = performance.now();
  await port.rulePreview(RulePreviewQuestion.parse({ entry, nights: NIGHTS }));
  return performance.now() - fromMs;
}

/** Values that go up and down with the day, with noise; so that rules have something to find. */
const COURSES: Readonly<Record<string, readonly [mean: number, swing: number, noise: number]>> = {
  'bank.voltage': [26.4, 0.4, 0.05],
  'bank.current': [5, 30, 4],
  'bank.stateOfCharge': [65, 20, 0.2],
  'panels.power': [500, 500, 60],
  'minisplit.power': [400, 200, 80],
  'minisplit.setpoint': [20, 0, 0],
  'minisplit.mode': [1, 0, 0],
  'cabin.temperature': [23, 4, 0.2],
  'cabin.humidity': [55, 10, 1],
  'outside.temperature': [24, 9, 0.2],
  'outside.humidity': [45, 20, 1],
  'load.fridge.power': [40, 30, 10],
};

async function fill(store: RigStore, { rig, signals }: RigFile): Promise<void> {
  for (let fromMs = FROM_MS; fromMs < NOW_MS; fromMs += DAY_MS / 4) {
    const readings: Reading[] = [];
    for (let tMs = fromMs; tMs < fromMs + DAY_MS / 4; tMs += EVERY_MS) {
      const sun = Math.sin((2 * Math.PI * (tMs - DAY_MS / 4)) / DAY_MS);
      for (const signal of signals.specs.keys()) {
        const [mean, swing, noise] = COURSES[signal] ?? [1, 0, 0];
        const value = mean + swing * sun + noise * Math.sin(tMs / 7919 + signal.length);
        readings.push({ rigId: rig.id, signal, tMs, value, quality: 'ok', timeSource: 'arrival', arrivalSeq: 0 });
      }
    }
    await store.append(readings);
  }
  for (let tMs = FROM_MS; tMs < NOW_MS; tMs += DAY_MS) await store.put(Array.from({ length: 144 }, (_, i) => projection(tMs + i * BIN_MS)));
}

function projection(tMs: number) {
  const quantiles = { tMs: tMs + 6 * 3_600_000, p10Pct: 30, p50Pct: 38, p90Pct: 46 };
  const figures = {
    socPct: 60,
    socSigmaPct: 2,
    sunrise: quantiles,
    lowPoint: quantiles,
    takeover: null,
    floorPct: 35,
    belowFloorProbability: 0.25,
    nights: 20,
  };
  return { kind: 'projection', id: `${tMs}`, tMs, body: JSON.stringify({ kind: 'projection', tMs, ...figures }) };
}

function past(): Bin[] {
  const count = (NOW_MS - FROM_MS) / BIN_MS;
  return Array.from({ length: count }, (_, i) => ({ ...closeBin({ ...emptySums(FROM_MS + i * BIN_MS), steps: 60 }), socFrac: 0.65 + 0.2 * Math.sin(i / 23) }));
}
