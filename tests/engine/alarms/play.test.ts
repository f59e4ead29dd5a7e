import fc from 'fast-check';
import { expect, it } from 'vitest';
import { type AlarmEvent, IDS, playAlarms, RULE_SETS } from '../../../deploy/bars/alarm-play.ts';

const id = fc.constantFrom(...IDS, 'nobody');
const hold = fc.record({
  kind: fc.constant('hold' as const),
  warm: fc.oneof({ weight: 5, arbitrary: fc.constantFrom(5, 20, 28, 29, 31, 36, 41, 50) }, { weight: 1, arbitrary: fc.constant(null) }),
  cause: fc.oneof({ weight: 4, arbitrary: fc.constant(0) }, { weight: 2, arbitrary: fc.constant(1) }, { weight: 1, arbitrary: fc.constant(null) }),
  silent: fc.subarray(['cabin', 'outside', 'bank']),
  steps: fc.integer({ min: 1, max: 14 }),
});
const events: fc.Arbitrary<AlarmEvent> = fc.oneof(
  { weight: 6, arbitrary: hold },
  { weight: 2, arbitrary: fc.record({ kind: fc.constant('acknowledge' as const), id, isOld: fc.boolean() }) },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('shelve' as const), id, minutes: fc.constantFrom(1, 2, 5, 2000) }) },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('unshelve' as const), id }) },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('restart' as const), clockSure: fc.boolean(), jumpS: fc.constantFrom(5, 3600, -3600) }) },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('jump' as const), hours: fc.constantFrom(7, -7) }) },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('rules' as const), set: fc.nat(RULE_SETS.length - 1) }) },
);

it('whatever comes in whatever order, no alarm is lost, doubled, stuck, untold or quieter than what it hides', () => {
  fc.assert(
    fc.property(fc.array(events, { minLength: 1, maxLength: 40 }), (list) => {
      expect(playAlarms(list)).toBeNull();
    }),
    { numRuns: 400 },
  );
});
