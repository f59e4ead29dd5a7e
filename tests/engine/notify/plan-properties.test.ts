import fc from 'fast-check';
import { expect, it } from 'vitest';
import type { Alarm } from '../../../shared/schema/alarm.ts';
import { loud, planBench } from '../../helpers/notify-plan.ts';

const SETTINGS = {
  quietHours: ['22:00', '07:00'],
  low: { first: ['phones'], atNight: [] },
  medium: { first: ['tablet', 'phones'] },
  high: { first: ['phones'], then: [{ after: 600, routes: ['post'] }] },
  critical: { first: ['phones'], then: [{ after: 300, routes: ['post', 'lamp'] }] },
  repeatEvery: 900,
};
const event = fc.oneof(
  { weight: 4, arbitrary: fc.record({ what: fc.constant('raise' as const), priority: fc.constantFrom('low', 'medium', 'high', 'critical' as const) }) },
  { weight: 2, arbitrary: fc.record({ what: fc.constant('gone' as const) }) },
  { weight: 2, arbitrary: fc.record({ what: fc.constant('acknowledge' as const) }) },
  { weight: 1, arbitrary: fc.record({ what: fc.constant('suppress' as const), how: fc.constantFrom('none', 'shelved', 'by-design' as const) }) },
  { weight: 1, arbitrary: fc.record({ what: fc.constant('restart' as const), awayS: fc.nat(3600), sure: fc.boolean() }) },
  { weight: 1, arbitrary: fc.record({ what: fc.constant('jump' as const), byS: fc.integer({ min: -30_000, max: 30_000 }) }) },
  { weight: 6, arbitrary: fc.record({ what: fc.constant('wait' as const), s: fc.integer({ min: 10, max: 2000 }) }) },
);

it('in any order of events: nobody is called about what needs nobody, all that calls is told, no notice comes twice, repeats keep their distance', () => {
  fc.assert(
    fc.property(fc.array(event, { maxLength: 60 }), (events) => {
      const bench = planBench(SETTINGS);
      let alarm: Alarm = loud({ condition: false, lifecycle: 'normal', occurrence: 0, priority: 'low' });
      const seen = new Set<string>();
      let againMonoMs: number | null = null;
      for (const one of events) {
        let afterS = 10;
        if (one.what === 'raise' && (alarm.lifecycle !== 'unacknowledged' || one.priority !== alarm.priority))
          alarm = { ...alarm, condition: true, lifecycle: 'unacknowledged', priority: one.priority, occurrence: alarm.occurrence + 1 };
        if (one.what === 'gone' && alarm.condition)
          alarm = { ...alarm, condition: false, lifecycle: alarm.lifecycle === 'unacknowledged' ? 'returned' : 'normal' };
        if (one.what === 'acknowledge' && alarm.lifecycle === 'unacknowledged') alarm = { ...alarm, lifecycle: 'acknowledged' };
        if (one.what === 'suppress') alarm = { ...alarm, suppression: one.how };
        if (one.what === 'restart') {
          bench.restart(one.awayS, one.sure);
          againMonoMs = null;
        }
        if (one.what === 'jump') bench.setClock(one.byS);
        if (one.what === 'wait') afterS = one.s;
        const { tellings, stop } = bench.step([alarm], afterS);
        const isLoud = alarm.lifecycle === 'unacknowledged' && alarm.suppression === 'none';
        if (!isLoud) expect(tellings).toEqual([]);
        else expect(stop).toEqual([]);
        for (const { why, routes, count } of tellings) {
          expect(routes.length).toBeGreaterThan(0);
          expect(seen).not.toContain(`${alarm.occurrence}/${count}`);
          seen.add(`${alarm.occurrence}/${count}`);
          if (why !== 'again') continue;
          expect(['high', 'critical']).toContain(alarm.priority);
          if (againMonoMs !== null) expect(bench.time().monoMs - againMonoMs).toBeGreaterThanOrEqual(900_000);
          againMonoMs = bench.time().monoMs;
        }
        const call = bench.plan().calls[alarm.id];
        if (isLoud && alarm.priority !== 'low') expect(call?.told).toContain(alarm.priority === 'medium' ? 'tablet' : 'phones');
        if (isLoud && alarm.priority === 'critical') expect(call?.told).toContain('tablet');
        if (!isLoud) expect(call?.isOpen ?? false).toBe(false);
      }
    }),
    { numRuns: 3000 },
  );
});
