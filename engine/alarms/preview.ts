import type { Priority } from '../../shared/schema/alarm.ts';
import type { AlarmRule } from '../../shared/schema/alarm-rule.ts';
import type { RulePreview } from '../../shared/schema/rule-preview.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { EngineState, RigModel } from '../types.ts';
import { type PastNeeds, rebuildable } from './preview-needs.ts';
import type { NightSpan } from './preview-nights.ts';
import type { StoredPast } from './preview-past.ts';
import { createRebuilt, type Look } from './preview-rebuild.ts';
import { higher } from './rank.ts';
import { initialAlarms, stepAlarms } from './reduce.ts';
import { readyRules } from './rule.ts';
import { type AlarmState, recordOf } from './state.ts';

const MINUTE_MS = 60_000;
const STEP_S = 60;
/** Before the first night the past is followed for a day, so that means, settings and delays stand as they did. */
export const LEAD_MS = 86_400_000;
/**
 * A minute is looked at with its means. Where a value that counts at the moment went up or down within it, it is looked at with its least and its
 * greatest values too, at thirds of it: a limit crossed for seconds ends an on-delay live, and by the mean alone would not.
 */
const STEADY: readonly (readonly [at: Look, aheadMs: number])[] = [['mean', 0]];
const VARYING: typeof STEADY = [['min', 40_000], ['max', 20_000], ...STEADY];

type Sounding = RulePreview['nights'][number]['soundings'][number];

/** How a rule would have done, worked out stretch by stretch. */
export interface Preview {
  readonly needs: PastNeeds;
  /** Nothing is to be followed: it cannot be watched, or nothing of it can be rebuilt. */
  readonly isEmpty: boolean;
  /** Goes on to the next stretch; they come in order and without gaps, the first from LEAD_MS before the first night. */
  enter(past: StoredPast): void;
  /** Follows the minutes of the stretch that end in (fromMs, toMs]. */
  follow(fromMs: EpochMs, toMs: EpochMs): void;
  result(): RulePreview;
  /** Seconds for which the condition stood, delays and all aside. */
  inConditionS(): number;
}

export interface PreviewQuestion {
  readonly ruleId: string;
  /** All rules of the rig, the one asked for among them as it would be. */
  readonly rules: readonly AlarmRule[];
  readonly rig: RigModel;
  readonly engine: EngineState;
  readonly spans: readonly NightSpan[];
}

interface NightCount extends NightSpan {
  readonly soundings: Sounding[];
  seenMin: number;
}

/** Follows a rule through the past by the same evaluation and life cycle as live. One out of service is followed as if it were in it. */
export function createPreview({ ruleId, rules, rig, engine, spans }: PreviewQuestion): Preview {
  const asked = rules.find(({ id }) => id === ruleId);
  const inService = rules.map((rule) => (rule === asked ? { ...rule, outOfService: false } : rule));
  const { rules: left, needs, notRebuilt } = rebuildable(ruleId, inService, rig);
  const followed = left ?? [];
  const fromMs = spans[0]?.fromMs ?? engine.stepMs;
  const rebuilt = createRebuilt(rig, engine, needs, fromMs - LEAD_MS);
  const nights: NightCount[] = spans.map((span) => ({ ...span, soundings: [], seenMin: 0 }));
  const reads = readyRules(followed).list.find(({ rule }) => rule.id === ruleId)?.reads ?? [];
  let alarms: AlarmState = initialAlarms();
  let boot = 0;
  let ran = false;
  let stands: { sounding: Sounding; night: NightCount | null } | null = null;
  let night = 0;
  let inConditionMin = 0;

  /** Notes what a step did: it sounds from when it is heard until its condition is over. */
  function note(tMs: EpochMs, at: NightCount | null): void {
    const record = recordOf(alarms.records, ruleId);
    const isHeard = record?.lifecycle === 'unacknowledged' && record.suppression === 'none' && record.condition !== false;
    if (!record || record.condition === false) {
      stands = closed(stands, tMs);
    } else if (stands) {
      stands = { ...stands, sounding: Object.assign(stands.sounding, { priority: louder(stands.sounding.priority, record.priority) }) };
    } else if (isHeard) {
      stands = { sounding: { raisedMs: tMs, clearedMs: null, priority: record.priority, forUnknown: record.condition === 'unknown' }, night: at };
      at?.soundings.push(stands.sounding);
    }
  }

  function minute(tMs: EpochMs): void {
    while (night < nights.length && tMs > (nights[night] as NightCount).toMs) night += 1;
    const at = nights[night] && tMs > (nights[night] as NightCount).fromMs ? (nights[night] as NightCount) : null;
    const runs = rebuilt.minute(tMs);
    // After a time without the engine delays begin anew, as after any start.
    if (runs && !ran) boot += 1;
    ran = runs;
    if (!runs) return;
    for (const [look, aheadMs] of rebuilt.varies() ? VARYING : STEADY) {
      const wallMs = tMs - aheadMs;
      const quantities = rebuilt.look(look, wallMs);
      alarms = stepAlarms(alarms, quantities, followed, { wallMs, monoMs: wallMs, bootId: `${boot}`, clockSure: true }).state;
      note(wallMs, at);
      if (look === 'mean' && at && reads.every((name) => quantities.value(name) !== null)) at.seenMin += 1;
    }
    if (recordOf(alarms.records, ruleId)?.condition === true && at) inConditionMin += 1;
  }

  return {
    needs,
    isEmpty: followed.length === 0 || spans.length === 0,
    enter: rebuilt.enter,
    follow(since, until) {
      for (let tMs = since + MINUTE_MS; tMs <= until; tMs += MINUTE_MS) minute(tMs);
    },
    inConditionS: () => 60 * inConditionMin,
    result: () => ({
      fromMs,
      toMs: spans.at(-1)?.toMs ?? fromMs,
      stepS: STEP_S,
      nights: nights.map(({ nightId, fromMs: since, toMs, soundings, seenMin }) => ({
        ...{ nightId, fromMs: since, toMs, soundings },
        seenShare: toMs > since ? Math.min(1, (seenMin * MINUTE_MS) / (toMs - since)) : 0,
      })),
      soundings: nights.reduce((sum, { soundings }) => sum + soundings.length, 0),
      nightsWithSound: nights.filter(({ soundings }) => soundings.length > 0).length,
      standsNow: stands !== null,
      notWatched: asked?.notWatched ?? '',
      notRebuilt: [...notRebuilt],
    }),
  };
}

const louder = (a: Priority, b: Priority): Priority => higher(a, b) ?? a;

function closed(stands: { sounding: Sounding } | null, tMs: EpochMs): null {
  if (stands) stands.sounding.clearedMs = tMs;
  return null;
}
