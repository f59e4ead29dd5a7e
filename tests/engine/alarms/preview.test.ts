import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { createPreview, LEAD_MS } from '../../../engine/alarms/preview.ts';
import { nightSpans } from '../../../engine/alarms/preview-nights.ts';
import { quantitiesOf } from '../../../engine/alarms/quantities.ts';
import { initialAlarms, stepAlarms } from '../../../engine/alarms/reduce.ts';
import { noBox } from '../../../engine/alarms/seen.ts';
import { initialState } from '../../../engine/state.ts';
import { STEP_MS } from '../../../engine/types.ts';
import type { AlarmRule } from '../../../shared/schema/alarm-rule.ts';
import { ownRules, rulesFrom } from '../../helpers/engine-alarm.ts';
import { DAY_MS, NOON_MS, rigOf, timeAt } from '../../helpers/engine-rig.ts';
import { type Course, type Minute, pastOf } from '../../helpers/stored-past.ts';

const MINUTE_MS = 60_000;
const SIGNALS = ['bank.voltage', 'bank.current', 'cabin.temperature', 'outside.temperature'];
const rig = rigOf({ everyS: new Map(SIGNALS.map((name) => [name, 10])), temperatures: ['cabin.temperature'] });
const engine = initialState(rig, NOON_MS - 40 * DAY_MS);
type Options = Parameters<typeof pastOf>[3];

/** A rule over two nights up to noon, with what is stored of them and of the day before. */
function previewed(ruleId: string, rules: readonly AlarmRule[], signals: Readonly<Record<string, Course>>, options: Options = {}, nowMs = NOON_MS) {
  const spans = nightSpans('UTC', nowMs, 2);
  const preview = createPreview({ ruleId, rules, rig, engine, spans });
  const firstMs = spans[0]?.fromMs as number;
  for (const { fromMs, toMs } of [{ fromMs: firstMs - LEAD_MS, toMs: firstMs }, ...spans]) {
    preview.enter(pastOf(signals, fromMs, toMs, options));
    preview.follow(fromMs, toMs);
  }
  return { ...preview.result(), inConditionS: preview.inConditionS() };
}

const hot = (over: object = {}) =>
  ownRules({ id: 'hot', when: { watch: 'cabin.temperature', above: 30 }, priority: 'medium', onDelay: 300, offDelay: 600, ...over });
/** Minutes since noon of the last evening. */
const minuteOf = (tMs: number): number => (tMs - (NOON_MS - DAY_MS)) / MINUTE_MS;
const warmBetween =
  (from: number, to: number, warm: Minute = 31, cool: Minute = 25): Course =>
  (tMs) =>
    minuteOf(tMs) >= from && minuteOf(tMs) < to ? warm : cool;

describe('soundings', () => {
  test('begin after the on-delay and end after the off-delay, in the night they belong to', () => {
    const { nights, ...rest } = previewed('hot', hot(), { 'cabin.temperature': warmBetween(100, 160) });
    expect(
      nights.map(({ nightId, soundings }) => [nightId, soundings.map(({ raisedMs, clearedMs }) => [minuteOf(raisedMs), minuteOf(clearedMs ?? 0)])]),
    ).toEqual([
      ['2025-07-08', []],
      ['2025-07-09', [[106, 171]]],
    ]);
    expect(rest).toMatchObject({ soundings: 1, nightsWithSound: 1, standsNow: false, notWatched: '', notRebuilt: [], stepS: 60 });
  });

  test('one that stands at the end has no end; worse is the same sounding at its loudest', () => {
    const levels = [
      { priority: 'low', when: { watch: 'cabin.temperature', above: 30 } },
      { priority: 'high', when: { watch: 'cabin.temperature', above: 40 } },
    ];
    const rules = hot({ when: undefined, priority: undefined, levels });
    const course: Course = (tMs) => (minuteOf(tMs) < 1000 ? 20 : minuteOf(tMs) < 1200 ? 35 : 45);
    const { nights, standsNow } = previewed('hot', rules, { 'cabin.temperature': course });
    expect(nights[1]?.soundings).toEqual([expect.objectContaining({ clearedMs: null, priority: 'high', forUnknown: false })]);
    expect(standsNow).toBe(true);
  });

  test('a limit that is left for seconds within a minute ends an on-delay, though the mean of the minute is over it', () => {
    const signals = (warm: Minute) => ({ 'cabin.temperature': warmBetween(100, 160, warm) });
    expect(previewed('hot', hot(), signals([30.5, 31, 31.5])).soundings).toBe(1);
    expect(previewed('hot', hot(), signals([29, 31, 32])).soundings).toBe(0);
  });

  test('missing data raises as live, and only where the engine ran', () => {
    const signals = { 'cabin.temperature': warmBetween(100, 160, null) };
    const raised = previewed('hot', hot(), signals).nights[1];
    expect(raised?.soundings).toEqual([expect.objectContaining({ forUnknown: true })]);
    expect(raised?.seenShare).toBeCloseTo(1 - 60 / 1440, 3);
    const off = previewed('hot', hot(), signals, { ran: (tMs) => minuteOf(tMs) < 100 || minuteOf(tMs) >= 160 });
    expect([off.soundings, off.nights[1]?.seenShare.toFixed(2)]).toEqual([0, '0.96']);
  });

  test('a cause holds back only where it is rebuilt itself', () => {
    const cause = { id: 'cause', when: { watch: 'outside.temperature', above: 35 }, priority: 'high', onDelay: 0 };
    const effect = { id: 'hot', when: { watch: 'cabin.temperature', above: 30 }, priority: 'medium', onDelay: 300, because: ['cause', 'broker-lost'] };
    const signals = (outsideC: number) => ({ 'cabin.temperature': warmBetween(100, 160), 'outside.temperature': warmBetween(90, 170, outsideC) });
    const rules = rulesFrom(cause, effect);
    expect(previewed('hot', rules, signals(40)).soundings).toBe(0);
    const heard = previewed('hot', rules, signals(20));
    expect(heard.soundings).toBe(1);
    expect(heard.notRebuilt).toEqual(['whether “The broker is lost” held it back is not known for the past']);
  });

  test('the state of charge is that of the bins, and one out of service is followed as if it were in it', () => {
    const rules = ownRules({ id: 'low', when: { watch: 'bank.socPct', below: 50 }, priority: 'low', onDelay: 0, offDelay: 0, outOfService: true });
    const socFrac = (endMs: number) => (minuteOf(endMs) > 600 && minuteOf(endMs) <= 700 ? 0.4 : 0.6);
    const { nights } = previewed('low', rules, {}, { socFrac });
    // Between the ends of two bins it is drawn as a line: half way down and half way up.
    expect(nights[1]?.soundings.map(({ raisedMs, clearedMs }) => [minuteOf(raisedMs), minuteOf(clearedMs ?? 0)])).toEqual([[606, 706]]);
  });
});

describe('whatever the course', () => {
  const minutes = fc.array(fc.integer({ min: 20, max: 40 }), { minLength: 24, maxLength: 24 });
  /** Values of ten minutes each, over and over. */
  const courseOf =
    (values: readonly number[]): Course =>
    (tMs) =>
      values[Math.floor(tMs / 600_000) % values.length] ?? null;

  test('an on-delay longer than it ever lasts never sounds', () => {
    fc.assert(
      fc.property(minutes, (values) => {
        const course: Course = (tMs) => (tMs % 7_140_000 < 60_000 ? 20 : (courseOf(values)(tMs) as number));
        expect(previewed('hot', hot({ onDelay: 7200 }), { 'cabin.temperature': course }).soundings).toBe(0);
      }),
      { numRuns: 5 },
    );
  });

  test('raising the limit of a rule that looks above one never makes it stand longer', () => {
    fc.assert(
      fc.property(minutes, fc.integer({ min: 20, max: 39 }), fc.integer({ min: 0, max: 10 }), (values, limit, more) => {
        const inConditionS = (above: number) =>
          previewed('hot', hot({ when: { watch: 'cabin.temperature', above } }), { 'cabin.temperature': courseOf(values) }).inConditionS;
        expect(inConditionS(limit + more)).toBeLessThanOrEqual(inConditionS(limit));
      }),
      { numRuns: 8 },
    );
  });

  test('it sounds when the steps of 10 s of the live run raise it, within a step of a minute', () => {
    fc.assert(
      fc.property(minutes, (values) => {
        const rules = hot();
        const course = courseOf(values);
        const live: number[] = [];
        let alarms = initialAlarms();
        for (let tMs = NOON_MS - 2 * DAY_MS - LEAD_MS + STEP_MS; tMs <= NOON_MS; tMs += STEP_MS) {
          // A reading comes at the begin of each minute.
          const readMs = Math.floor((tMs - 1) / MINUTE_MS) * MINUTE_MS;
          const latest = { 'cabin.temperature': { value: course(readMs) as number, tMs } };
          const watched = { belowFloorProbability: null, text: {}, unknownBecause: '' } as never;
          const { state, changes } = stepAlarms(
            alarms,
            quantitiesOf({ state: { ...engine, latest }, bank: {} as never, watched }, rig, noBox, tMs),
            rules,
            timeAt(tMs),
          );
          alarms = state;
          for (const { deed } of changes) if (deed === 'raised' && tMs > NOON_MS - 2 * DAY_MS) live.push(tMs);
        }
        const raised = previewed('hot', rules, { 'cabin.temperature': course }).nights.flatMap(({ soundings }) => soundings.map(({ raisedMs }) => raisedMs));
        expect(raised.length).toBe(live.length);
        for (const [i, tMs] of raised.entries()) expect(Math.abs(tMs - (live[i] ?? 0))).toBeLessThanOrEqual(MINUTE_MS);
      }),
      { numRuns: 6 },
    );
  });
});
