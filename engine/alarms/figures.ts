import { medianSorted, quantileSorted } from 'simple-statistics';
import { type AlarmChange, PRIORITIES } from '../../shared/schema/alarm.ts';
import type { AlarmFigures } from '../../shared/schema/alarm-book.ts';
import type { EpochMs } from '../../shared/units.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
/** So many raises of one alarm within an hour are chattering: its delays are minutes. (Three a minute is meant for alarms without delays.) */
const CHATTERS_AT = 3;
const BUSIEST = 10;

/** An alarm that somebody was told of: one occurrence, from the first moment it sounded. */
type Sounded = Pick<AlarmChange, 'id' | 'tMs' | 'priority'>;

/**
 * How well the alarms did with fromMs <= tMs < toMs, in the figures of ISA-18.2 (clause 16) / IEC 62682: rate, flood, chattering, stale,
 * time to acknowledge, priorities. What was shelved or held back told nobody and counts as no alarm. An alarm counts as acknowledged
 * when a person first answered it, though it had got worse by then. Less than a day counts as a day in the rate.
 * @param changes all that is kept up to `toMs`, oldest first, from before `fromMs` too: what stands may be older than the range
 */
export function figuresOf(changes: readonly AlarmChange[], fromMs: EpochMs, toMs: EpochMs): AlarmFigures {
  const known = changes.filter(({ tMs }) => tMs < toMs);
  const sounded = soundedIn(known).filter(({ tMs }) => tMs >= fromMs);
  const groups = byId(sounded);
  const counts = [...groups].map(([id, raises]) => ({ id, raises: raises.length })).sort((a, b) => b.raises - a.raises || (a.id < b.id ? -1 : 1));
  const waitsS = waitsOf(sounded, known);
  const answeredS = waitsS.filter((wait) => wait !== null).sort((a, b) => a - b);
  const days = (toMs - fromMs) / DAY_MS;
  return {
    days,
    alarmsPerDay: sounded.length / Math.max(1, days),
    mostInAnHour: mostInAnHour(sounded),
    chattering: [...groups].map(([id, raises]) => ({ id, raisesInAnHour: mostInAnHour(raises) })).filter(({ raisesInAnHour }) => raisesInAnHour >= CHATTERS_AT),
    stale: standingAt(known).filter(({ sinceMs }) => toMs - sinceMs > DAY_MS),
    acknowledgeMedianS: answeredS.length === 0 ? null : medianSorted(answeredS),
    acknowledgeP90S: answeredS.length === 0 ? null : quantileSorted(answeredS, 0.9),
    neverAcknowledged: waitsS.length - answeredS.length,
    byPriority: PRIORITIES.map((priority) => ({
      priority,
      share: sounded.length === 0 ? 0 : sounded.filter((one) => one.priority === priority).length / sounded.length,
    })),
    busiest: counts.slice(0, BUSIEST),
  };
}

/** Occurrence 0 stands in lines of versions that kept none; there each raise is an alarm. */
function soundedIn(changes: readonly AlarmChange[]): Sounded[] {
  const seen = new Set<string>();
  return changes.filter(({ id, occurrence, deed, lifecycle, suppression }) => {
    if (lifecycle !== 'unacknowledged' || suppression !== 'none') return false;
    if (occurrence === 0) return deed === 'raised' || deed === 'out-of-sight';
    const key = `${id} ${occurrence}`;
    const isNew = !seen.has(key);
    seen.add(key);
    return isNew;
  });
}

/** How long each waited for its acknowledgement, s; null: none came. */
function waitsOf(sounded: readonly Sounded[], changes: readonly AlarmChange[]): (number | null)[] {
  const answers = byId(changes.filter(({ deed }) => deed === 'acknowledged'));
  return sounded.map(({ id, tMs }) => {
    const answer = answers.get(id)?.find((one) => one.tMs >= tMs);
    return answer ? (answer.tMs - tMs) / 1000 : null;
  });
}

/** The most in any hour. */
function mostInAnHour(sounded: readonly Sounded[]): number {
  let first = 0;
  let most = 0;
  for (const [last, { tMs }] of sounded.entries()) {
    while (tMs - (sounded[first]?.tMs ?? tMs) >= HOUR_MS) first += 1;
    most = Math.max(most, last - first + 1);
  }
  return most;
}

/** Alarms whose condition stands, or cannot be told, since when without a break. */
function standingAt(changes: readonly AlarmChange[]): { id: string; sinceMs: EpochMs }[] {
  const since = new Map<string, EpochMs>();
  for (const { id, condition, suppression, tMs } of changes) {
    if (condition === false || suppression === 'out-of-service') since.delete(id);
    else if (!since.has(id)) since.set(id, tMs);
  }
  return [...since].map(([id, sinceMs]) => ({ id, sinceMs }));
}

function byId<T extends { readonly id: string }>(items: readonly T[]): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const group = groups.get(item.id);
    if (group) group.push(item);
    else groups.set(item.id, [item]);
  }
  return groups;
}
