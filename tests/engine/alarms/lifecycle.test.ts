import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { alarmBench, lowPointRules } from '../../helpers/engine-alarm.ts';

const RANK = { low: 0, medium: 1, high: 2, critical: 3 } as const;
const ON_S = 60;
const OFF_S = 120;
const DEADBAND = 0.05;
const NOTICE = 0.2;
const URGENT = 0.5;

/** Chances around the limits, holding for steps of 10 s each; null: not known. */
const spells = fc.array(
  fc.record({
    p: fc.oneof(
      { weight: 5, arbitrary: fc.constantFrom(0, 0.1, 0.14, 0.16, 0.19, 0.21, 0.4, 0.44, 0.47, 0.49, 0.51, 0.9) },
      { weight: 1, arbitrary: fc.constant(null) },
    ),
    steps: fc.integer({ min: 1, max: 14 }),
    acknowledge: fc.boolean(),
  }),
  { minLength: 1, maxLength: 60 },
);

/** How long a statement has been true without a break, s. */
const stopwatch = () => {
  let forS = -10;
  return (isTrue: boolean): number => {
    forS = isTrue ? forS + 10 : -10;
    return forS;
  };
};

describe('whatever the chance does, and whoever acknowledges', () => {
  it('no alarm is lost, none is doubled, none is stuck', () => {
    fc.assert(
      fc.property(spells, (list) => {
        const bench = alarmBench(lowPointRules({ onDelay: ON_S, offDelay: OFF_S, notice: NOTICE, urgent: URGENT, deadband: DEADBAND }));
        const notGood = stopwatch();
        const urgent = stopwatch();
        const good = stopwatch();
        const calm = stopwatch();
        let before = bench.alarm();
        for (const { p, steps, acknowledge } of list) {
          for (let i = 0; i < steps; i++) {
            const alarm = bench.hold(p, 10);
            // Lost: what has stood for the on-delay is not normal, and what stays urgent is called so, by way of a notice.
            if (notGood(p === null || p > NOTICE) >= ON_S) expect(alarm.condition).not.toBe(false);
            if (urgent(p !== null && p > URGENT) >= 2 * ON_S) expect(alarm.priority).toBe('high');
            // Stuck: what is good is over, from urgent by way of a notice, and what is not urgent any more is not called so.
            if (good(p !== null && p <= NOTICE - DEADBAND) >= 2 * OFF_S) expect(alarm.condition).toBe(false);
            if (calm(p !== null && p <= URGENT - DEADBAND) >= 2 * OFF_S && alarm.condition === true) expect(alarm.priority).toBe('medium');
            // Doubled: an occurrence is new only where something was raised, got worse or went out of sight.
            const raised = alarm.condition !== before.condition && alarm.condition !== false;
            const worse = RANK[alarm.priority] > RANK[before.priority];
            if (alarm.occurrence !== before.occurrence) {
              expect(alarm.occurrence).toBe(before.occurrence + 1);
              expect(raised || worse).toBe(true);
              expect(alarm.lifecycle).toBe('unacknowledged');
            }
            // Silent: nothing gets worse or begins without sounding, and only a person acknowledges.
            if ((before.condition === false && alarm.condition !== false) || worse) expect(alarm.lifecycle).toBe('unacknowledged');
            if (before.lifecycle === 'unacknowledged') expect(['unacknowledged', 'returned']).toContain(alarm.lifecycle);
            if (alarm.lifecycle === 'normal' || alarm.lifecycle === 'returned') expect(alarm.condition).toBe(false);
            before = alarm;
          }
          if (acknowledge) bench.acknowledge();
          before = bench.alarm();
        }
      }),
      { numRuns: 150 },
    );
  });

  it('a chance that stays within its deadband changes nothing', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: 0.151, max: 0.499, noNaN: true }), { maxLength: 200 }), (chances) => {
        const bench = alarmBench(lowPointRules({ onDelay: 0, offDelay: 0 }));
        bench.hold(0.3, 10);
        for (const p of chances) bench.hold(p, 10);
        expect(bench.changes).toHaveLength(1);
      }),
    );
  });
});
