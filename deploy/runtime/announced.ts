import { z } from 'zod';
import { planAtBus } from '../../engine/loads/planned.ts';
import type { Learned, Plan, RigModel } from '../../engine/types.ts';
import { MOST_RUN_MINUTES } from '../../shared/load-limits.ts';
import { OneAtATime } from '../../shared/one-at-a-time.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { Command } from '../../shared/schema/api.ts';
import { AnnouncedLoad, MOST_PLANNED, PLAN_AHEAD_MS } from '../../shared/schema/plan.ts';
import type { EpochMs } from '../../shared/units.ts';

const KIND = 'plan';
/** Loads that are over, a document each, by when they ended. */
const PAST = 'planned-load';
/** A load lasts no longer than this, ms. */
const LONGEST_MS = MOST_RUN_MINUTES * 60_000;

/** The loads that are announced, kept in the store. What is over no longer counts; the next change puts it among those of the past, which stay. */
export interface Announced {
  /** Not over at `nowMs`, the first to start first. */
  loads(nowMs: EpochMs): AnnouncedLoad[];
  /** The same for the engine, W at the bus; the same object as long as nothing about it is another. */
  plan(nowMs: EpochMs, rig: RigModel, learned: Learned | null): Plan;
  /** Resolves with why it was refused, '' when it is kept; rejects when the store fails, and nothing is changed then. */
  add(wanted: Extract<Command, { kind: 'plan-load' }>, nowMs: EpochMs): Promise<string>;
  /** Takes one out: not to be remembered when it has not begun, else as having ended now. */
  drop(loadId: string, nowMs: EpochMs): Promise<string>;
  /** Those that run within fromMs <= t < toMs, past and to come, the first to start first. */
  within(fromMs: EpochMs, toMs: EpochMs): Promise<AnnouncedLoad[]>;
}

/** Announced loads of earlier runs; none where what is stored cannot be read. */
export async function loadAnnounced(store: RigStore, rigId: string): Promise<AnnouncedLoad[]> {
  try {
    return z.array(AnnouncedLoad).parse(JSON.parse((await store.get(KIND, rigId)) ?? '[]'));
  } catch (error) {
    if (error instanceof SyntaxError || error instanceof z.ZodError) return [];
    throw error;
  }
}

export function createAnnounced(store: RigStore, rigId: string, earlier: readonly AnnouncedLoad[]): Announced {
  let all = earlier;
  const turns = new OneAtATime();
  let given: { readonly key: string; readonly plan: Plan } | null = null;

  const loads = (nowMs: EpochMs) => all.filter(({ endMs }) => endMs > nowMs).sort((a, b) => a.startMs - b.startMs);

  /** One change after the other, each from what the one before it left; `ended` is over by it. */
  function change(nowMs: EpochMs, next: (now: readonly AnnouncedLoad[]) => readonly AnnouncedLoad[] | string, ended: () => AnnouncedLoad[] = () => []) {
    return turns.take(async () => {
      const wanted = next(loads(nowMs));
      if (typeof wanted === 'string') return wanted;
      const over = [...all.filter(({ endMs }) => endMs <= nowMs), ...ended()];
      const past = over.map((load) => ({ kind: PAST, id: load.id, tMs: load.endMs, body: JSON.stringify(load) }));
      await store.put([{ kind: KIND, id: rigId, tMs: nowMs, body: JSON.stringify(wanted) }, ...past]);
      all = wanted;
      return '';
    });
  }

  return {
    loads,
    plan(nowMs, rig, learned) {
      const plan = planAtBus(loads(nowMs), rig, learned);
      const key = JSON.stringify(plan);
      if (given?.key !== key) given = { key, plan };
      return given.plan;
    },
    add({ id, name, powerW, startMs, minutes }, nowMs) {
      const endMs = Math.round(startMs + minutes * 60_000);
      return change(nowMs, (now) => {
        // Asked again after a restart, when the answer was lost on its way.
        if (now.some((load) => load.id === id)) return now;
        if (endMs <= nowMs) return 'it would be over already';
        if (startMs > nowMs + PLAN_AHEAD_MS) return 'it starts more than seven days ahead';
        if (now.length >= MOST_PLANNED) return `${MOST_PLANNED} loads are planned already; take one out first`;
        return [...now, { id, name, powerW, startMs, endMs }];
      });
    },
    drop(loadId, nowMs) {
      const running = () => loads(nowMs).filter(({ id, startMs }) => id === loadId && startMs < nowMs);
      return change(
        nowMs,
        (now) => {
          const rest = now.filter(({ id }) => id !== loadId);
          return rest.length === now.length ? 'it is not planned any more' : rest;
        },
        () => running().map((load) => ({ ...load, endMs: nowMs })),
      );
    },
    async within(fromMs, toMs) {
      const stored = await store.list(PAST, fromMs, toMs + LONGEST_MS);
      const past = stored.flatMap(({ body }) => AnnouncedLoad.safeParse(JSON.parse(body)).data ?? []);
      const known = new Map([...past, ...all].map((load) => [load.id, load]));
      return [...known.values()].filter(({ startMs, endMs }) => startMs < toMs && endMs > fromMs).sort((a, b) => a.startMs - b.startMs);
    },
  };
}
