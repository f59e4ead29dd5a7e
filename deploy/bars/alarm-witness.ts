import type { Alarm, AlarmChange } from '../../shared/schema/alarm.ts';
import type { AlarmEvent, Play } from './alarm-play.ts';

/** Limits and delays of the rule `level`, which is watched closest; s and units of what it watches. */
export const LEVEL = { medium: 30, high: 40, deadband: 2, onS: 30, offS: 60 } as const;
export const CAUSE = { onS: 20, offS: 30 } as const;

/** Missing input counts after this long, s. */
const LOST_AFTER_S = 60;

const RANK = { low: 0, medium: 1, high: 2, critical: 3 } as const;
/** Of a shelf no more is noted than this old, so a restart may lengthen it by so much, ms. */
const SHELF_SLACK_MS = 60_000;
const MOST_SPANS = 33;

/** Says what must never be and is; null when all is well. */
export interface Witness {
  stepped(
    event: Extract<AlarmEvent, { kind: 'hold' }>,
    play: Play,
    before: readonly Alarm[],
    after: readonly Alarm[],
    changes: readonly AlarmChange[],
  ): string | null;
  commanded(
    event: { readonly kind: string; readonly id: string },
    play: Play,
    before: readonly Alarm[],
    after: readonly Alarm[],
    changes: readonly AlarmChange[],
  ): string | null;
  restarted(before: readonly Alarm[], after: readonly Alarm[]): string | null;
  /** The rules are others from here on. */
  edited(): void;
}

/** How long a statement has been true without a break, s. */
function stopwatch() {
  let forS = -10;
  return {
    tick(isTrue: boolean): number {
      forS = isTrue ? forS + 10 : -10;
      return forS;
    },
    reset() {
      forS = -10;
    },
  };
}

/**
 * Looks on with a knowledge of its own: how long what is wrong has been wrong, what a person has acknowledged or put away. It works out no
 * conditions, delays or suppression the way that the engine does.
 */
export function createWitness(): Witness {
  const watches = { warm: stopwatch(), hot: stopwatch(), cool: stopwatch(), causeGone: stopwatch(), hidden: stopwatch() };
  /** The occurrence that somebody has acknowledged, and what at most is left of a shelf. */
  const acknowledged = new Map<string, number>();
  const shelves = new Map<string, number>();
  /** The rules have been edited since the last step. */
  let isEdited = false;
  const reset = (): void => {
    for (const watch of Object.values(watches)) watch.reset();
  };

  /** What holds for each alarm at each moment. */
  function amiss(a: Alarm, all: readonly Alarm[]): string | null {
    const isQuiet = a.lifecycle === 'normal' || a.lifecycle === 'returned';
    if (isQuiet !== (a.condition === false)) return `${a.id} is ${a.lifecycle} while its condition is ${a.condition}`;
    if (a.lifecycle === 'acknowledged' && acknowledged.get(a.id) !== a.occurrence) return `${a.id} was acknowledged by nobody`;
    if (a.suppression === 'shelved' && (a.shelvedUntilMs === null || (shelves.get(a.id) ?? 0) <= 0)) return `${a.id} is still shelved`;
    if (a.suppression !== 'shelved' && a.shelvedUntilMs !== null) return `${a.id} has a shelf and is not shelved`;
    if ((a.heldBackBy !== null) !== (a.suppression === 'by-design')) return `${a.id} does not say what holds it back`;
    const cause = all.find(({ id }) => id === a.heldBackBy);
    if (a.suppression === 'by-design' && (cause === undefined || cause.suppression !== 'none')) return `${a.id} is held back by what is not heard`;
    return null;
  }

  /** Each change is told once, as it is, and nothing is told that is no change. */
  function untold(before: readonly Alarm[], after: readonly Alarm[], changes: readonly AlarmChange[]): string | null {
    for (const a of after) {
      const b = before.find(({ id }) => id === a.id);
      const told = changes.filter(({ id }) => id === a.id);
      const isOther = b !== undefined && (b.lifecycle !== a.lifecycle || b.condition !== a.condition || b.occurrence !== a.occurrence);
      if (told.length > 1) return `${a.id} changed twice in a step`;
      if (isOther && told.length === 0) return `a change of ${a.id} is not told`;
      const [change] = told;
      if (change && (change.lifecycle !== a.lifecycle || change.occurrence !== a.occurrence || change.priority !== a.priority))
        return `${a.id} is told otherwise`;
    }
    return null;
  }

  /** From one step to the next. */
  function leap(b: Alarm | undefined, a: Alarm): string | null {
    if (b === undefined || a.suppression === 'out-of-service' || b.suppression === 'out-of-service') return null;
    const rise = a.occurrence - b.occurrence;
    if (rise !== 0 && rise !== 1) return `the occurrence of ${a.id} went from ${b.occurrence} to ${a.occurrence}`;
    if (rise === 1 && a.lifecycle !== 'unacknowledged') return `a new occurrence of ${a.id} is ${a.lifecycle}`;
    const isWorse = a.condition === true && b.condition === true && RANK[a.priority] > RANK[b.priority];
    const begins = a.condition !== false && b.condition === false;
    if ((isWorse || begins) && rise !== 1) return `${a.id} ${begins ? 'began' : 'got worse'} without a new occurrence`;
    if (b.lifecycle === 'unacknowledged' && a.lifecycle === 'acknowledged') return `${a.id} acknowledged itself`;
    if (b.lifecycle === 'unacknowledged' && b.suppression === 'none' && a.lifecycle === 'normal' && a.suppression === 'none') return `${a.id} was forgotten`;
    return null;
  }

  return {
    stepped({ warm, cause }, play, before, after, changes) {
      for (const [id, leftMs] of shelves) shelves.set(id, leftMs - 10_000);
      const { warm: warmFor, hot, cool, causeGone, hidden } = watches;
      const isWhole = play.set === 0;
      const warmS = warmFor.tick(isWhole && (warm === null || warm > LEVEL.medium));
      const hotS = hot.tick(isWhole && warm !== null && warm > LEVEL.high);
      const coolS = cool.tick(isWhole && warm !== null && warm <= LEVEL.medium - LEVEL.deadband);
      const goneS = causeGone.tick(cause === 0);
      for (const a of after) {
        const b = before.find(({ id }) => id === a.id);
        // An edit may change any alarm in the step after it.
        const wrong = amiss(a, after) ?? (isEdited ? null : leap(b, a));
        if (wrong !== null) return wrong;
      }
      isEdited = false;
      const level = after.find(({ id }) => id === 'level');
      const source = after.find(({ id }) => id === 'cause');
      if (level && source) {
        if (warmS >= (warm === null ? LOST_AFTER_S : LEVEL.onS) && level.condition === false) return 'level is lost';
        if (hotS >= 2 * LEVEL.onS && RANK[level.priority] < RANK.high) return 'level is not as loud as it should be';
        if (coolS >= 2 * LEVEL.offS && level.condition !== false) return 'level is stuck';
        // It may be over by way of a lesser priority, each with its delay.
        if (goneS >= 2 * CAUSE.offS + CAUSE.onS && level.suppression === 'by-design') return 'level is held back by what is gone';
        const isHidden = level.suppression === 'by-design' && level.lifecycle === 'unacknowledged' && cause === 1 && source.condition === true;
        if (
          hidden.tick(isHidden && before.find(({ id }) => id === 'level')?.priority === level.priority) >= CAUSE.onS + 10 &&
          RANK[source.priority] < RANK[level.priority]
        )
          return 'cause is less loud than what it hides';
      }
      if (Object.values(play.state.histories).some(({ length }) => length > MOST_SPANS)) return 'a history grows';
      return untold(before, after, changes);
    },
    commanded({ kind, id }, play, before, after, changes) {
      const a = after.find((one) => one.id === id);
      const b = before.find((one) => one.id === id);
      if (changes.length > 1) return 'a command is told twice';
      if (a && b && a.occurrence !== b.occurrence) return `a command raised ${id}`;
      if (changes.length === 0) return JSON.stringify(before) === JSON.stringify(after) ? null : `a refused command changed ${id}`;
      if (kind === 'acknowledge' && a) acknowledged.set(id, a.occurrence);
      if (kind === 'shelve' && a?.shelvedUntilMs) shelves.set(id, a.shelvedUntilMs - play.time.wallMs);
      return before.some((one) => one.id !== id && JSON.stringify(one) !== JSON.stringify(after.find((other) => other.id === one.id)))
        ? `a command for ${id} changed another alarm`
        : null;
    },
    restarted(before, after) {
      reset();
      for (const [id, leftMs] of shelves) shelves.set(id, leftMs + SHELF_SLACK_MS);
      const plain = (alarms: readonly Alarm[]) => JSON.stringify(alarms.map(({ raisesLastHour: _, chattering: __, shelvedUntilMs: ___, ...alarm }) => alarm));
      return plain(before) === plain(after) ? null : 'a restart changed an alarm';
    },
    edited() {
      isEdited = true;
      reset();
    },
  };
}
