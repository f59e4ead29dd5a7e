import { restoreAlarms } from '../../engine/alarms/reduce.ts';
import { restoreState, setBack } from '../../engine/state.ts';
import { STEP_MS } from '../../engine/types.ts';
import type { EngineTime, RigStore } from '../../shared/ports.ts';
import type { AnnouncedLoad } from '../../shared/schema/plan.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { EpochMs } from '../../shared/units.ts';
import { loadAnnounced } from './announced.ts';
import { loadBins } from './bins.ts';
import { type Blind, blindBetween } from './blind.ts';
import type { Resume } from './core.ts';
import type { Checkpoint } from './keeper.ts';

/** How far back the time is stepped through when the engine has no usable state of its own, or was away for longer. */
export interface LookBack {
  readonly ms: number;
  /** True when messages will be there for all of it; false: it begins with the first stored reading. */
  readonly filled: boolean;
}

/** What a start needs of earlier runs, with the readings that the engine has not seen yet. */
export interface Past {
  readonly resume: Resume;
  /** In the order of their times, with the quality they were stored with. */
  readonly readings: readonly Reading[];
  /** Up to when anything is known of the rig; null when it has never run. */
  readonly knownUntilMs: EpochMs | null;
  /** The newest stored reading of each signal. */
  readonly newest: readonly Reading[];
  /** Loads announced in earlier runs. */
  readonly planned: readonly AnnouncedLoad[];
  /** The time before this start in which the program did not run and that nothing fills; null when there is none. */
  readonly blind: Blind | null;
}

/** Reads where an earlier run left off. A missing, damaged or outdated engine state is rebuilt by stepping through the readings of the last days. */
export async function loadPast(store: RigStore, rigId: string, signals: readonly string[], now: EngineTime, lookBack: LookBack): Promise<Past> {
  const earliestMs = now.wallMs - lookBack.ms;
  const checkpoint = checkpointOf(await store.get('engine', rigId));
  const restored = checkpoint && restoreState(JSON.stringify({ ...checkpoint.engine, learned: parsed((await store.get('learned', rigId)) ?? 'null') }));
  const nowStepMs = Math.floor(now.wallMs / STEP_MS) * STEP_MS;
  // A box without a clock of its own boots some time before the power went. What its bank holds and what was learned is true all the same.
  const isAhead = restored !== null && restored.stepMs > now.wallMs;
  const engine = isAhead ? setBack(restored, nowStepMs) : restored;
  const usable = engine !== null && engine.stepMs >= earliestMs;
  const fromMs = isAhead ? now.wallMs : usable ? engine.stepMs : earliestMs;
  const readings = await readingsSince(store, rigId, signals, fromMs, now.wallMs);
  const firstMs = lookBack.filled ? earliestMs : (readings[0]?.tMs ?? now.wallMs);
  const newest = await store.latest(rigId, now.wallMs);
  const lastMs = Math.max(checkpoint?.stepMs ?? Number.NEGATIVE_INFINITY, ...newest.map(({ tMs }) => tMs));
  // A doubtful clock cannot tell how long it was, and a recording plays at another time.
  const canTell = now.clockSure && !lookBack.filled && lookBack.ms > 0 && Number.isFinite(lastMs);
  const alarms = await store.get('alarms', rigId);
  const lastStepMs = usable ? engine.stepMs : Math.floor(firstMs / STEP_MS) * STEP_MS - STEP_MS;
  return {
    resume: {
      lastStepMs,
      // An old state is better than none: what it has learned stays true over a gap.
      engine,
      alarms: alarms === null ? null : restoreAlarms(alarms, now),
      jobs: usable && !isAhead ? (checkpoint?.jobs ?? []) : [],
      bins: await loadBins(store, now.wallMs),
      alarmsFromMs: nowStepMs,
    },
    readings,
    knownUntilMs: readings.at(-1)?.tMs ?? (checkpoint ? checkpoint.stepMs : null),
    newest,
    planned: await loadAnnounced(store, rigId),
    blind: canTell ? blindBetween(lastMs, now.wallMs) : null,
  };
}

function checkpointOf(body: string | null): Checkpoint | null {
  const found = parsed(body ?? 'null') as Partial<Checkpoint> | null;
  return typeof found?.stepMs === 'number' && typeof found.engine === 'object' && Array.isArray(found.jobs) ? (found as Checkpoint) : null;
}

/** A stored text as JSON; null when it is damaged. */
function parsed(body: string): unknown {
  try {
    return JSON.parse(body);
  } catch {
    return null;
  }
}

/** Readings asked for at once. */
const PAGE = 100_000;
const SECOND_MS = 1000;

/** Readings after a time in order. Of a signal that comes faster than once a second the last one of each second, as the engine steps in tens of them. */
async function readingsSince(store: RigStore, rigId: string, signals: readonly string[], fromMs: EpochMs, toMs: EpochMs): Promise<Reading[]> {
  const found: Reading[] = [];
  for (const signal of signals) {
    for (let nextMs = fromMs + 1; nextMs <= toMs; ) {
      const { tMs, value, suspect } = await store.range(rigId, signal, nextMs, toMs + 1, PAGE);
      const lastMs = tMs.at(-1) ?? toMs;
      const isFast = tMs.length === PAGE && lastMs - (tMs[0] ?? lastMs) < PAGE * SECOND_MS;
      for (const [index, time] of tMs.entries()) {
        const after = tMs[index + 1];
        if (isFast && after !== undefined && Math.floor(after / SECOND_MS) === Math.floor(time / SECOND_MS)) continue;
        found.push({
          rigId,
          signal,
          tMs: time,
          value: value[index] as number,
          quality: suspect[index] ? 'suspect' : 'ok',
          timeSource: 'arrival',
          arrivalSeq: 0,
        });
      }
      nextMs = tMs.length < PAGE ? Number.POSITIVE_INFINITY : lastMs + 1;
    }
  }
  return found.sort((a, b) => a.tMs - b.tMs);
}
