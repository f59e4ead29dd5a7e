import { OF_WATCH } from '../../shared/built-in-alarms.ts';
import type { EngineTime } from '../../shared/ports.ts';
import type { Alarm, Priority } from '../../shared/schema/alarm.ts';
import type { CallOut, Routes } from '../../shared/schema/routes.ts';
import { type Call, reboot, rounds, type Stop, standing } from './call.ts';
import { type CallRules, firstRoutes, isLoud } from './call-out.ts';
import { isWithin } from './time-of-day.ts';

/** Who has been called about what, kept with the alarm state. JSON-serialisable. */
export interface NotifyPlan {
  readonly version: 1;
  /** When this was last brought up to date; spans on the monotonic clock count from there after a restart. */
  readonly keptAt: EngineTime;
  readonly calls: Readonly<Record<string, Call>>;
}

export const initialPlan = (time: EngineTime): NotifyPlan => ({ version: 1, keptAt: time, calls: {} });

/** Why somebody is called now. */
export type Why = 'raised' | 'flaps' | 'next' | 'again';

/** A notice that is to go out now, by each of these routes. */
export interface Telling {
  readonly alarm: Alarm;
  readonly why: Why;
  readonly routes: readonly string[];
  /** For how long nobody has acknowledged it, ms. */
  readonly standsMs: number;
  /** Tells the notices of one occurrence apart. */
  readonly count: number;
}

export interface PlanInputs {
  readonly alarms: readonly Alarm[];
  readonly callOut: CallOut;
  readonly routes: Routes;
  /** Routes beyond the rig that could be taken if all else fails. */
  readonly remote: readonly string[];
  /** A rule's own routes; null: those of its priority. */
  routesOf(alarmId: string): readonly string[] | null;
  /** Whether a notice of this occurrence or a later one has got through beyond the rig. */
  hasReached(alarmId: string, fromOccurrence: number): boolean;
  readonly timeZone: string;
}

const RANK: Readonly<Record<Priority, number>> = { low: 0, medium: 1, high: 2, critical: 3 };

/**
 * Who is to be told what now. The first routes at once; the next ones after so long without acknowledgement; high and critical alarms again and
 * again; all spans by the monotonic clock and over restarts. Getting worse begins anew. What was acknowledged, shelved, held back, taken out of
 * service or is over, stops. An alarm that flaps says so once, and no more until it rests, gets worse or has to be repeated.
 */
export function stepPlan(before: NotifyPlan, inputs: PlanInputs, time: EngineTime): { plan: NotifyPlan; tell: readonly Telling[]; stop: readonly Stop[] } {
  const { keptAt } = before;
  const isQuiet = isWithin(inputs.callOut.quietHours, inputs.timeZone, time.wallMs);
  const tell: Telling[] = [];
  const stop: Stop[] = [];
  const calls: Record<string, Call> = {};
  let isChanged = keptAt.bootId !== time.bootId;
  for (const alarm of inputs.alarms) {
    const old = Object.hasOwn(before.calls, alarm.id) ? (before.calls[alarm.id] as Call) : null;
    const call = old && keptAt.bootId !== time.bootId ? reboot(old, keptAt, time) : old;
    const stepped = isLoud(alarm) ? sounding(call, alarm, inputs, isQuiet, time) : { call: call && standing(call, alarm, stop), tell: [] };
    if (stepped.call) calls[alarm.id] = stepped.call;
    if (stepped.call !== old) isChanged = true;
    tell.push(...stepped.tell);
  }
  for (const [alarmId, { occurrence, firstOccurrence, title, isOpen }] of Object.entries(before.calls)) {
    if (inputs.alarms.some(({ id }) => id === alarmId)) continue;
    isChanged = true;
    if (isOpen) stop.push({ alarmId, occurrence, firstOccurrence, title, text: '', over: false, reason: 'its rule was taken out' });
  }
  return { plan: isChanged ? { version: 1, keptAt: time, calls } : { ...before, keptAt: time }, tell, stop };
}

/** One step of an alarm that calls for somebody. */
function sounding(before: Call | null, alarm: Alarm, inputs: PlanInputs, isQuiet: boolean, time: EngineTime): { call: Call; tell: Telling[] } {
  const { call, flaps } = rounds(before, alarm, RANK, time);
  const rules: CallRules = {
    call: inputs.callOut[alarm.priority],
    own: inputs.routesOf(alarm.id),
    routes: inputs.routes,
    isQuiet: isQuiet && !OF_WATCH.has(alarm.id),
  };
  const first = firstRoutes(alarm.priority, rules);
  // A priority that is mute at night waits for the morning, whoever would be next.
  if (first === null) return { call: call.told.length > 0 || call.isMute ? call : { ...call, isMute: true }, tell: [] };
  const begun = call.isMute ? { ...call, isMute: false, sinceMonoMs: time.monoMs, triedMonoMs: time.monoMs } : call;
  const isPressing = RANK[alarm.priority] >= RANK.high;
  const advanced = nextSteps(begun, alarm, inputs, isPressing, time);
  const steps = rules.call.then.slice(0, advanced.steps).flatMap(({ routes }) => routes);
  const lastResort = advanced.isLastResort ? inputs.remote : [];
  // Who armed the watch is away: a sound in the rig alone would call nobody.
  const away = OF_WATCH.has(alarm.id) && !first.some((name) => inputs.remote.includes(name)) ? inputs.remote : [];
  const all = [...new Set([...first, ...away, ...steps, ...lastResort])].filter((name) => Object.hasOwn(inputs.routes, name));
  // A step that names a route again means it: nobody has answered there.
  const stepped = rules.call.then.slice(begun.steps, advanced.steps).flatMap(({ routes }) => routes);
  const fresh = all.filter((name) => !advanced.told.includes(name) || stepped.includes(name));
  const isAgain = isPressing && advanced.againMonoMs !== null && time.monoMs - advanced.againMonoMs >= 1000 * inputs.callOut.repeatEvery;
  const routes = isAgain || flaps ? all : fresh;
  if (routes.length === 0) return { call: advanced, tell: [] };
  const told: Call = {
    ...advanced,
    told: [...new Set([...advanced.told, ...routes])],
    againMonoMs: isAgain || advanced.againMonoMs === null ? time.monoMs : advanced.againMonoMs,
    count: advanced.count + 1,
    saysFlaps: begun.saysFlaps || flaps,
  };
  const why: Why = flaps ? 'flaps' : isAgain ? 'again' : advanced.told.length === 0 ? 'raised' : 'next';
  return { call: told, tell: [{ alarm, why, routes, standsMs: time.monoMs - told.sinceMonoMs, count: told.count }] };
}

/** A high or critical alarm that has reached nobody for so long goes to who is next, and after the last to every route there is. */
const UNREACHED_MS = 120_000;

function nextSteps(call: Call, alarm: Alarm, { callOut, hasReached }: PlanInputs, isPressing: boolean, time: EngineTime): Call {
  const { then } = callOut[alarm.priority];
  const standsMs = time.monoMs - call.sinceMonoMs;
  const isTime = (at: number): boolean => standsMs >= 1000 * (then[at]?.after ?? Number.POSITIVE_INFINITY);
  let { steps } = call;
  while (steps < then.length && isTime(steps)) steps += 1;
  if (steps > call.steps) return { ...call, steps, triedMonoMs: time.monoMs };
  const isUnreached = isPressing && !call.isLastResort && time.monoMs - call.triedMonoMs >= UNREACHED_MS && !hasReached(call.id, call.roundOccurrence);
  if (!isUnreached) return call;
  return steps < then.length ? { ...call, steps: steps + 1, triedMonoMs: time.monoMs } : { ...call, isLastResort: true };
}
