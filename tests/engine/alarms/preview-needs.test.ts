import { describe, expect, test } from 'vitest';
import { rebuildable } from '../../../engine/alarms/preview-needs.ts';
import { BUILT_IN_ALARMS } from '../../../shared/schema/alarm-rule.ts';
import { FULL_CONTEXT, rulesFrom } from '../../helpers/engine-alarm.ts';
import { rigOf } from '../../helpers/engine-rig.ts';

const rig = rigOf({ everyS: new Map([...FULL_CONTEXT.signals.keys()].map((name) => [name, 10])) });
const of = (id: string, ...entries: readonly object[]) => rebuildable(id, rulesFrom(...entries), rig);
const levelsOf = (id: string, ...entries: readonly object[]) =>
  of(id, ...entries)
    .rules?.find((rule) => rule.id === id)
    ?.levels.map(({ when }) => when);

describe('what cannot be rebuilt is taken out of a rule', () => {
  const hot = { watch: 'cabin.temperature', above: 30 };
  const lost = { watch: 'box.brokerLost', above: 0.5 };

  test('so that it never sounds for want of it', () => {
    const own = (when: object) => levelsOf('mine', { id: 'mine', when, priority: 'low' });
    const isHot = expect.objectContaining({ watch: 'cabin.temperature' });
    expect(own({ any: [hot, lost] })).toEqual([{ any: [isHot] }]);
    expect(own({ all: [hot, lost] })).toBeUndefined();
    expect(own({ any: [hot, { not: lost }] })).toEqual([{ any: [isHot] }]);
    expect(own({ not: { all: [hot, lost] } })).toEqual([{ not: { all: [isHot] } }]);
    expect(own({ not: { any: [hot, lost] } })).toBeUndefined();
  });

  test('and named, each once, with causes that are not known', () => {
    expect(of('mine', { id: 'mine', when: { any: [hot, lost, { watch: 'box.clockUnsure', above: 0.5 }] }, priority: 'low' }).notRebuilt).toEqual([
      'how the box itself fared (broker, store, clock) is not kept',
    ]);
    expect(of('sensor-silent').notRebuilt).toEqual(['whether “The broker is lost” held it back is not known for the past']);
  });

  test('a rule that looks at another takes it along; one that looks at what is not kept cannot be followed', () => {
    expect(of('bank-low').rules?.map(({ id }) => id)).toEqual(expect.arrayContaining(['bank-low', 'low-point', 'sensor-silent']));
    const effect = { id: 'effect', when: { alarm: 'broker-lost' }, priority: 'low' };
    expect(of('effect', effect)).toMatchObject({
      rules: null,
      notRebuilt: expect.arrayContaining(['whether “The broker is lost” stood is not known for the past']),
    });
  });
});

test('every built-in alarm is followed or says why not', () => {
  const followed = BUILT_IN_ALARMS.filter((id) => of(id).rules !== null);
  expect(followed).toEqual([
    ...['low-point', 'bank-low', 'cell-low', 'voltage-low', 'cold-charge', 'charge-blocked', 'cabin-hot', 'cabin-cold', 'minisplit-failing'],
    ...['sensor-silent', 'not-anchored', 'unaccounted-load'],
  ]);
  for (const id of BUILT_IN_ALARMS) if (!followed.includes(id)) expect([id, of(id).notRebuilt.length]).not.toEqual([id, 0]);
});

test('only what a rule looks at is read', () => {
  const { needs } = of('mine', { id: 'mine', when: { watch: 'cabin.overK', above: 3 }, priority: 'low' });
  expect(needs).toMatchObject({ charge: false, projections: false, panels: false, means: false });
  expect([...needs.signals].sort()).toEqual(['cabin.temperature', 'minisplit.mode', 'minisplit.setpoint']);
});
