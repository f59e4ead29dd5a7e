import { z } from 'zod';
import { planAtBus } from '../../engine/loads/planned.ts';
import type { Learned, Plan, RigModel } from '../../engine/types.ts';
import { OneAtATime } from '../../shared/one-at-a-time.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { Command } from '../../shared/schema/api.ts';
import { AnnouncedLoad, MOST_PLANNED, PLAN_AHEAD_MS } from '../../shared/schema/plan.ts';
import type { EpochMs } from '../../shared/units.ts';

const KIND = 'plan';

/** The loads that are announced, kept in the store. What is over no longer counts, and leaves the store with the next change. */
export interface Announced {
  /** Not over at `nowMs`, the first to start first. */
  loads(nowMs: EpochMs): AnnouncedLoad[];
  /** The same for the engine, W at the bus; the same object as long as nothing about it is another. */
  plan(nowMs: EpochMs, rig: RigModel, learned: Learned | null): Plan;
  /** Resolves with why it was refused, '' when it is kept; rejects when the store fails, and nothing is changed then. */
  add(wanted: Extract<Command, { kind: 'plan-load' }>, nowMs: EpochMs): Promise<string>;
  drop(loadId: string, nowMs: EpochMs): Promise<string>;
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

  /** One change after the other, each from what the one before it left. */
  function change(nowMs: EpochMs, next: (now: readonly AnnouncedLoad[]) => readonly AnnouncedLoad[] | string): Promise<string> {
    return turns.take(async () => {
      const wanted = next(loads(nowMs));
      if (typeof wanted === 'string') return wanted;
      await store.put([{ kind: KIND, id: rigId, tMs: nowMs, body: JSON.stringify(wanted) }]);
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
      return change(nowMs, (now) => {
        const rest = now.filter(({ id }) => id !== loadId);
        return rest.length === now.length ? 'it is not planned any more' : rest;
      });
    },
  };
}
