import { OF_WATCH } from '../../shared/built-in-alarms.ts';
import type { Alarm } from '../../shared/schema/alarm.ts';
import type { HealthView } from '../../shared/schema/live.ts';
import type { ReachView, RouteView } from '../../shared/schema/notice.ts';
import type { Projection } from '../../shared/schema/projection.ts';
import type { WatchOrder, WatchView } from '../../shared/schema/watch-mode.ts';
import type { EpochMs } from '../../shared/units.ts';

const HOUR_MS = 3_600_000;
/** A route counts as proven for so long; the same at most for an absence. */
export const MOST_HOURS = 12;
/** A projection is made every ten minutes; an older one speaks of another evening. */
const PROJECTION_FRESH_MS = 30 * 60_000;
/** The chance of falling under the floor that is still called holding. */
const MOST_BELOW_FLOOR = 0.1;
/** Warming takes minutes, so a thermometer must speak at least this often, s. */
const MOST_CADENCE_S = 60;
/** Limits nearer than this would alarm at an ordinary swing of the cabin, K. */
const LEAST_BAND_K = 5;

/** A thermometer that may stand where somebody is. `source`: what it is read from, the same for one sensor under two names. */
export type Thermometer = WatchView['thermometers'][number] & { readonly everyS: number; readonly source: string };

/** What the watch can be armed on, or goes by while it is armed. */
export interface WatchSituation {
  readonly nowMs: EpochMs;
  readonly units: 'metric' | 'us';
  readonly thermometers: readonly Thermometer[];
  /** Null: nothing is sent here. */
  readonly reach: ReachView | null;
  readonly heartbeatEveryMs: number;
  readonly projection: Projection | null;
  readonly alarms: readonly Alarm[];
  readonly broker: HealthView['broker'];
}

/** Why the watch would not be armed, each with what to do. Without an order: what stands against any. */
export function refusalsOf(order: Omit<WatchOrder, 'understood'> | null, situation: WatchSituation): string[] {
  return [
    ...(order ? orderedThermometers(order, situation) : anyThermometers(situation)),
    ...(order ? limits(order, situation) : []),
    ...absence(order, situation),
    ...wayOut(situation),
    ...heartbeat(situation),
    ...bank(situation),
    ...standing(situation),
    ...mutedAlarms(situation).map(({ title, suppression }) => {
      const undo = suppression === 'shelved' ? 'take it off its shelf' : 'put it back into service';
      return `The alarm "${title}" is ${mutedText(suppression)}, so the watch would not call: ${undo} first.`;
    }),
    ...(situation.broker === 'connected' ? [] : ['The broker is not connected, so no thermometer can be heard: mend that first.']),
  ];
}

const isSeen = (one: Thermometer): boolean => one.fresh && one.valueC !== null;

function anyThermometers({ thermometers }: WatchSituation): string[] {
  const seen = new Set(thermometers.filter((one) => isSeen(one) && one.everyS <= MOST_CADENCE_S).map(({ source }) => source));
  if (seen.size >= 2) return [];
  return [
    `Two thermometers inside must speak now, each at least once a minute, and ${seen.size === 1 ? 'only one does' : 'none does'}: map a second one in the rig file, best near the floor where they will be, or see why one is silent.`,
  ];
}

function orderedThermometers(order: Pick<WatchOrder, 'thermometers'>, { thermometers }: WatchSituation): string[] {
  const chosen = order.thermometers.map((signal) => thermometers.find((one) => one.signal === signal) ?? signal);
  const known = chosen.filter((one) => typeof one !== 'string');
  return [
    ...(new Set(known.map(({ source }) => source)).size < 2 ? ['Choose two different thermometers: one alone may hang where it stays cool.'] : []),
    ...chosen.flatMap((one) => {
      if (typeof one === 'string') return [`${one} is no thermometer inside this rig: choose another.`];
      if (!isSeen(one)) return [`${one.label} is silent or not to be believed: see why on the Sensors place, or choose another.`];
      if (one.everyS > MOST_CADENCE_S)
        return [`${one.label} speaks only every ${Math.round(one.everyS / 60)} min, and minutes count: have its board send at least once a minute.`];
      return [];
    }),
  ];
}

function limits({ thermometers: chosen, warmestC, coldestC }: Omit<WatchOrder, 'understood'>, { thermometers, units }: WatchSituation): string[] {
  if (warmestC <= coldestC + LEAST_BAND_K) {
    return [`The limits lie too close together: leave more than ${units === 'us' ? '9 degrees' : '5 degrees'} between the coldest and the warmest.`];
  }
  return thermometers.flatMap(({ signal, label, valueC }) => {
    if (!chosen.includes(signal) || valueC === null || (valueC <= warmestC && valueC >= coldestC)) return [];
    return [`${label} is at ${degrees(valueC, units)} already, outside your limits: cool or heat first, or see whether the limits are right.`];
  });
}

function absence(order: Pick<WatchOrder, 'untilMs'> | null, { nowMs, projection }: WatchSituation): string[] {
  if (!order) return [];
  if (order.untilMs <= nowMs) return ['The time when you mean to be back has passed: choose a later one.'];
  if (order.untilMs > nowMs + MOST_HOURS * HOUR_MS)
    return [`It watches ${MOST_HOURS} hours at most: choose an earlier end, and arm it again when you are back.`];
  const reachesMs = projection?.curve.at(-1)?.tMs;
  if (reachesMs === undefined || reachesMs >= order.untilMs) return [];
  return ['How the bank does until then is not projected that far: choose an earlier end.'];
}

/** It has taken a notice within the last hours, and a device has said that it showed one where a device can say so. */
export function isProven({ remote, kind, state, provenMs, receivedMs }: RouteView, nowMs: EpochMs): boolean {
  const isRecent = (tMs: EpochMs | null) => tMs !== null && nowMs - tMs <= MOST_HOURS * HOUR_MS;
  return remote && state === 'works' && isRecent(provenMs) && (kind !== 'push' || isRecent(receivedMs));
}

function wayOut({ reach, nowMs }: WatchSituation): string[] {
  const remote = reach?.routes.filter((one) => one.remote && one.state !== 'no-target') ?? [];
  if (remote.some((one) => isProven(one, nowMs))) return [];
  if (remote.length === 0) return ['No way to reach you away from the rig is set up: add a phone, a mail address or a webhook under who is told.'];
  const isUnseen = remote.some((one) => isProven({ ...one, receivedMs: nowMs }, nowMs));
  if (isUnseen) return ['No phone has said within 12 hours that it showed a notice: send a test while it is on the network of the rig, and see it arrive.'];
  return ['No way to reach you away from the rig has been proven within 12 hours: send a test under who is told, and see it arrive.'];
}

/** It got through within twice its cadence. */
export function heartbeatOk({ reach, heartbeatEveryMs, nowMs }: Pick<WatchSituation, 'reach' | 'heartbeatEveryMs' | 'nowMs'>): boolean {
  const okMs = reach?.heartbeat?.okMs ?? null;
  return okMs !== null && nowMs - okMs <= 2 * heartbeatEveryMs;
}

function heartbeat(situation: WatchSituation): string[] {
  if (heartbeatOk(situation)) return [];
  const beat = situation.reach?.heartbeat;
  if (!beat) {
    return [
      'No heartbeat is set up, so nobody would notice when the rig itself falls silent: name an address under heartbeat in the rig file that tells somebody when it is no longer called.',
    ];
  }
  return [
    `The heartbeat does not get through${beat.reason === '' ? '' : ` (${beat.reason.slice(0, 120)})`}: see whether the rig has a way out, and wait for the next one.`,
  ];
}

function bank({ projection, nowMs }: WatchSituation): string[] {
  if (!projection || nowMs - projection.tMs > PROJECTION_FRESH_MS)
    return ['Whether the bank holds has not been worked out lately: wait for the next projection, or see what is silent.'];
  const { verdict, doubts, belowFloorProbability } = projection;
  if (verdict === 'learning')
    return ['Whether the bank holds is not known yet: this rig is still being learned. Do not rely on it until some nights have been seen.'];
  if (verdict === 'unknown') return [`Whether the bank holds cannot be told${doubts[0] === undefined ? '' : `: ${doubts[0]}`}. Mend that first.`];
  if (belowFloorProbability <= MOST_BELOW_FLOOR) return [];
  return [
    `The bank may fall under its floor (${Math.round(100 * belowFloorProbability)} in 100): charge first, or choose a setpoint that holds on the Tonight place.`,
  ];
}

function standing({ alarms }: WatchSituation): string[] {
  return alarms
    .filter(({ condition, priority, suppression }) => condition !== false && priority === 'critical' && suppression !== 'out-of-service')
    .map(({ title }) => `A critical alarm stands: ${title}. Mend what it tells of first.`);
}

/** Alarms of the watch that somebody has put away. */
export const mutedAlarms = ({ alarms }: Pick<WatchSituation, 'alarms'>): readonly Alarm[] =>
  alarms.filter(({ id, suppression }) => OF_WATCH.has(id) && (suppression === 'shelved' || suppression === 'out-of-service'));

export const mutedText = (suppression: Alarm['suppression']): string => (suppression === 'shelved' ? 'shelved' : 'out of service');

const degrees = (tempC: number, units: WatchSituation['units']): string => (units === 'us' ? `${Math.round(1.8 * tempC + 32)}°F` : `${tempC.toFixed(1)}°C`);
