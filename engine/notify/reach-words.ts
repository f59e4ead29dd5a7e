import type { ReachView } from '../../shared/schema/notice.ts';
import type { EpochMs } from '../../shared/units.ts';
import { clockText, weekdayText } from '../clock.ts';

const HOUR_MS = 3_600_000;
/** Beyond this a time of day alone could be today's or yesterday's. */
const SAME_DAY_MS = 20 * HOUR_MS;
/** A proof by a device older than this does not count for the night. */
export const PROOF_MS = 12 * HOUR_MS;

/** What a person should know of the reach of alarms before going to bed; '' when there is nothing to say. */
export function bedtimeWords(reach: ReachView, nowMs: EpochMs, timeZone: string): string {
  const since = (tMs: EpochMs): string => (nowMs - tMs < SAME_DAY_MS ? '' : `${weekdayText(timeZone, tMs)} `) + clockText(timeZone, tMs);
  return [...remoteWords(reach, nowMs, since), ...tabletWords(reach), ...heartbeatWords(reach, since)].join(' ');
}

function remoteWords({ routes, unreachableSinceMs }: ReachView, nowMs: EpochMs, since: (tMs: EpochMs) => string): string[] {
  const far = routes.filter(({ remote, state }) => remote && state !== 'no-target');
  if (far.length === 0) return ['Alarms go to nobody beyond this rig: no phone has subscribed, and no other way is set up.'];
  if (unreachableSinceMs !== null) return [`Remote alarms have not been reachable since ${since(unreachableSinceMs)}.`];
  const failing = far.flatMap(({ name, state, sinceMs }) =>
    state === 'fails' && sinceMs !== null ? [`The route ${name} has failed since ${since(sinceMs)}.`] : [],
  );
  const silent = far.filter(({ kind, state, receivedMs }) => kind === 'push' && state !== 'fails' && (receivedMs === null || nowMs - receivedMs >= PROOF_MS));
  return [...failing, ...silent.map(({ name }) => `No device of the route ${name} has confirmed a message within twelve hours.`)];
}

function tabletWords({ tablets, routes }: ReachView): string[] {
  if (tablets.sounding > 0 || !routes.some(({ kind }) => kind === 'tablet')) return [];
  return [tablets.silent > 0 ? 'No open screen has allowed sound: touch one, and allow it.' : 'No screen is open here that could sound.'];
}

function heartbeatWords({ heartbeat }: ReachView, since: (tMs: EpochMs) => string): string[] {
  const sinceMs = heartbeat?.failingSinceMs ?? null;
  return sinceMs === null ? [] : [`The heartbeat has not got through since ${since(sinceMs)}.`];
}
