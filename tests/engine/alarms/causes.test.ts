import { describe, expect, it } from 'vitest';
import { restoreAlarms } from '../../../engine/alarms/reduce.ts';
import { at, CABIN, CAUSE, FUSE, HOT, ownRules, ruleBench, rulesFrom, seen } from '../../helpers/engine-alarm.ts';

describe('a cause that cannot vouch for what it hides', () => {
  const because = { because: ['cause'] };

  it('holds nothing back while it is out of sight itself, however it stood', () => {
    const bench = ruleBench(ownRules({ ...HOT, ...because }, { ...CAUSE, unknown: 'ignore' }));
    bench.see(at(20, 1), 100);
    bench.acknowledge('cause');
    const blind = (cabinC: number) => seen({ [CABIN]: cabinC, [FUSE]: null });
    bench.see(blind(20), 600);
    expect(bench.alarm('cause')).toMatchObject({ condition: true, lifecycle: 'acknowledged' });
    bench.see(blind(42), 100);
    expect(bench.alarm('hot')).toMatchObject({ lifecycle: 'unacknowledged', suppression: 'none', priority: 'high' });
  });

  it('does not silence what sounds already before it sounds itself', () => {
    const bench = ruleBench(ownRules({ ...HOT, ...because }, { ...CAUSE, onDelay: 300 }));
    bench.see(at(33, 0), 100);
    for (let i = 0; i < 6; i += 1) {
      bench.see(at(33, 1), 200);
      expect(bench.alarm('hot').suppression).toBe('none');
      bench.see(at(33, 0), 20);
    }
    bench.see(at(33, 1), 320);
    expect(bench.alarm('cause')).toMatchObject({ condition: true, priority: 'medium' });
    expect(bench.alarm('hot')).toMatchObject({ suppression: 'by-design', heldBackBy: 'cause' });
  });
});

it('a cause that stands is lifted by what it hides as soon as that has stood for its own delay', () => {
  const bench = ruleBench(ownRules({ ...HOT, because: ['cause'] }, { ...CAUSE, onDelay: 600 }));
  bench.see(at(20, 1), 620);
  bench.acknowledge('cause');
  bench.see(at(42, 1), 60);
  expect(bench.alarm('cause')).toMatchObject({ priority: 'low', lifecycle: 'acknowledged' });
  bench.see(at(42, 1), 10);
  expect(bench.alarm('cause')).toMatchObject({ priority: 'high', lifecycle: 'unacknowledged', occurrence: 2 });
  bench.see(at(20, 1), 110);
  expect(bench.alarm('cause').priority).toBe('high');
});

describe('N02: rules of silence with the broker', () => {
  const silent = (index: number) => ({ id: `silent-${index}`, when: { watch: CABIN, silent: 60 }, priority: 'high', onDelay: 0 });
  const isBroker = ({ id, builtIn }: { id: string; builtIn: boolean }) => !builtIn || id === 'broker-lost';

  it('are one broker-lost, as loud as the loudest of them', () => {
    const bench = ruleBench(rulesFrom(...Array.from({ length: 10 }, (_, i) => silent(i))).filter(isBroker));
    bench.see(seen({ 'box.brokerLost': 1 }, { [CABIN]: 600 }), 400);
    const sounding = bench.changes.filter(({ suppression }) => suppression === 'none').map(({ id }) => id);
    expect(new Set(sounding)).toEqual(new Set(['broker-lost']));
    expect(bench.alarm('broker-lost')).toMatchObject({ priority: 'high', lifecycle: 'unacknowledged' });
  });

  it('sound themselves where the broker is there, and where a rule wants it so', () => {
    const bench = ruleBench(rulesFrom(silent(1), { ...silent(2), because: [] }).filter(isBroker));
    bench.see(seen({ 'box.brokerLost': 0 }, { [CABIN]: 600 }), 20);
    expect(bench.alarm('silent-1')).toMatchObject({ lifecycle: 'unacknowledged', suppression: 'none' });
    const lost = ruleBench(rulesFrom({ ...silent(2), because: [] }).filter(isBroker));
    lost.see(seen({ 'box.brokerLost': 1 }, { [CABIN]: 600 }), 200);
    expect(lost.alarm('silent-2').suppression).toBe('none');
  });
});

it('a stored state with one record that cannot be read keeps all others', () => {
  const bench = ruleBench(ownRules(HOT));
  bench.see(at(33), 70);
  const stored = JSON.parse(JSON.stringify(bench.state));
  stored.records.other = { lifecycle: 'normal', priority: 'loud' };
  const restored = restoreAlarms(JSON.stringify(stored), { ...bench.time, bootId: 'next' });
  expect(restored?.records.hot?.occurrence).toBe(1);
  expect(restored?.records.other).toBeUndefined();
});
