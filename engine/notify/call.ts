import type { EngineTime } from '../../shared/ports.ts';
import type { Alarm, Priority } from '../../shared/schema/alarm.ts';

/** An alarm that needs nobody any more. `over`: those who were told are told that it is over; otherwise only lamps and buzzers go out. */
export interface Stop {
  readonly alarmId: string;
  readonly occurrence: number;
  readonly firstOccurrence: number;
  readonly title: string;
  readonly text: string;
  readonly over: boolean;
  readonly reason: string;
}

/** What has been done about one alarm since it was last at rest. Times with `Mono` are on the monotonic clock of the plan's `keptAt`. */
export interface Call {
  readonly id: string;
  readonly occurrence: number;
  /** The occurrence with which it began since it was last at rest. */
  readonly firstOccurrence: number;
  /** The occurrence with which this round of calling began. */
  readonly roundOccurrence: number;
  /** The highest priority told, above which it is worse. */
  readonly priority: Priority;
  readonly title: string;
  /** False while it is acknowledged or held back. */
  readonly isOpen: boolean;
  /** It came back from being held back by design, and goes on as before. */
  readonly isHeldBack: boolean;
  /** Nobody has been told yet, since its priority is mute at this hour. */
  readonly isMute: boolean;
  /** Since when somebody could have acknowledged it. */
  readonly sinceMonoMs: number;
  /** When the last telling began that repeats are counted from; null: nobody has been told yet. */
  readonly againMonoMs: number | null;
  /** When somebody next was last tried. */
  readonly triedMonoMs: number;
  /** Steps of the call-out that have been taken. */
  readonly steps: number;
  readonly isLastResort: boolean;
  /** Routes that have been taken. */
  readonly told: readonly string[];
  readonly count: number;
  readonly saysFlaps: boolean;
}

/** The call with its spans moved to the clock of a new start. The time in between counts when both clocks can be trusted. */
export function reboot(call: Call, keptAt: EngineTime, time: EngineTime): Call {
  const awayMs = keptAt.clockSure && time.clockSure ? Math.max(0, time.wallMs - keptAt.wallMs) : 0;
  const shiftMs = time.monoMs - keptAt.monoMs - awayMs;
  return {
    ...call,
    sinceMonoMs: call.sinceMonoMs + shiftMs,
    againMonoMs: call.againMonoMs === null ? null : call.againMonoMs + shiftMs,
    triedMonoMs: call.triedMonoMs + shiftMs,
  };
}

/** The call of a loud alarm: as it was, or a new round; `flaps`: all that is new is that it flaps, and that has not been said. */
export function rounds(call: Call | null, alarm: Alarm, rank: Readonly<Record<Priority, number>>, time: EngineTime): { call: Call; flaps: boolean } {
  const { id, title, occurrence, priority, chattering } = alarm;
  const isWorse = !call || rank[priority] > rank[call.priority];
  if (call && !isWorse && call.occurrence === occurrence && (call.isOpen || call.isHeldBack)) {
    const saysFlaps = call.saysFlaps && chattering;
    const isSame = call.isOpen && saysFlaps === call.saysFlaps;
    return { call: isSame ? call : { ...call, isOpen: true, isHeldBack: false, saysFlaps }, flaps: false };
  }
  const begun = { id, occurrence, title, isOpen: true, isHeldBack: false, isMute: false };
  const clock = { sinceMonoMs: time.monoMs, triedMonoMs: time.monoMs, steps: 0, isLastResort: false };
  if (call && !isWorse && chattering) {
    // Nobody has answered yet: who is next, and when, goes on counting from the first time.
    const goesOn = call.isOpen ? call : { ...call, ...clock, againMonoMs: time.monoMs };
    return { call: { ...goesOn, ...begun, priority: call.priority, count: 0 }, flaps: !call.saysFlaps };
  }
  const count = call?.occurrence === occurrence ? call.count : 0;
  const firstOccurrence = call?.firstOccurrence ?? occurrence;
  return {
    call: { ...begun, ...clock, firstOccurrence, roundOccurrence: occurrence, priority, againMonoMs: null, told: [], count, saysFlaps: chattering },
    flaps: chattering,
  };
}

/** The call of an alarm that is not loud: closed while it stands, gone once it is over. What stops is added to `stops`. */
export function standing(call: Call, alarm: Alarm, stops: Stop[]): Call | null {
  const { lifecycle, suppression, text, acknowledgedBy } = alarm;
  const { occurrence, firstOccurrence } = call;
  const base = { alarmId: call.id, occurrence, firstOccurrence, title: alarm.title, text };
  const close = (reason: string, isHeldBack = false): Call => {
    if (!call.isOpen) return call;
    stops.push({ ...base, over: false, reason });
    return { ...call, isOpen: false, isHeldBack };
  };
  if (suppression === 'out-of-service') {
    close('it was taken out of service');
    return null;
  }
  if (suppression === 'shelved') return close('it was shelved');
  if (suppression === 'by-design') return close(`it is held back by ${alarm.heldBackBy ?? 'its cause'}`, true);
  if (lifecycle === 'acknowledged') return close(acknowledgedBy === null ? 'it was acknowledged' : `${acknowledgedBy} acknowledged it`);
  // A flapping alarm is not over each time it goes.
  if (alarm.chattering) return call;
  stops.push({ ...base, over: true, reason: 'it is over' });
  return null;
}
