import { describe, expect, it } from 'vitest';

import { acknowledge, restoreAlarms, stepAlarms } from '../../../engine/alarms/reduce.ts';
import { alarmBench, lowPointRules, nightSeen, watchedOf } from '../../helpers/engine-alarm.ts';

const ON_S = 600;
const OFF_S = 1200;
const raised = (p = 0.3) => {
  const bench = alarmBench();
  bench.hold(p, ON_S + 10);
  return bench;
};

describe('the alarm low-point', () => {
  it('is raised once the chance has stood above its limit for the on-delay, not before', () => {
    const bench = alarmBench();
    expect(bench.hold(0.3, ON_S)).toMatchObject({ condition: false, lifecycle: 'normal' });
    expect(bench.hold(0.3, 10)).toMatchObject({ condition: true, lifecycle: 'unacknowledged', priority: 'medium', occurrence: 1 });
    expect(bench.changes).toHaveLength(1);
    expect(bench.changes[0]).toMatchObject({ id: 'low-point', tMs: bench.time.wallMs, condition: true });
  });

  it('is not raised by a chance that goes away within the on-delay', () => {
    const bench = alarmBench();
    for (let i = 0; i < 20; i++) {
      bench.hold(0.4, ON_S - 20);
      bench.hold(0.1, 20);
    }
    expect(bench.changes).toEqual([]);
  });

  it('is raised by a chance that wanders between notice and urgent all the while', () => {
    const bench = alarmBench();
    for (let i = 0; i < 6; i++) {
      bench.hold(0.45, 300);
      bench.hold(0.55, 300);
    }
    expect(bench.alarm()).toMatchObject({ condition: true, lifecycle: 'unacknowledged', occurrence: 1 });
  });

  it('is raised by a chance that is now above its limit, now not known', () => {
    const bench = alarmBench();
    for (let i = 0; i < 6; i++) {
      bench.hold(0.45, 300);
      bench.hold(null, 300);
    }
    expect(bench.alarm().condition).not.toBe(false);
    expect(bench.alarm().lifecycle).toBe('unacknowledged');
  });

  it('N01: does not flap while the chance hovers at the limit', () => {
    const bench = raised(0.21);
    for (let i = 0; i < 120; i++) bench.hold(i % 2 === 0 ? 0.199 : 0.201, 30);
    expect(bench.changes).toHaveLength(1);
    const fresh = alarmBench();
    for (let i = 0; i < 120; i++) fresh.hold(i % 2 === 0 ? 0.199 : 0.201, 30);
    expect(fresh.changes).toEqual([]);
  });

  it('returns after the off-delay, and stays to be seen until it is acknowledged', () => {
    const bench = raised();
    expect(bench.hold(0.1, OFF_S).lifecycle).toBe('unacknowledged');
    expect(bench.hold(0.1, 10)).toMatchObject({ condition: false, lifecycle: 'returned', occurrence: 1 });
    expect(bench.acknowledge()).toBe('');
    expect(bench.alarm().lifecycle).toBe('normal');
    expect(bench.changes.map((c) => c.lifecycle)).toEqual(['unacknowledged', 'returned', 'normal']);
  });

  it('that has been acknowledged returns to normal at once, and is a new occurrence the next time', () => {
    const bench = raised();
    bench.acknowledge();
    expect(bench.hold(0.1, OFF_S + 10)).toMatchObject({ condition: false, lifecycle: 'normal' });
    expect(bench.hold(0.3, ON_S + 10)).toMatchObject({ lifecycle: 'unacknowledged', occurrence: 2 });
  });

  it('sounds again when it gets worse, though acknowledged', () => {
    const bench = raised();
    bench.acknowledge();
    expect(bench.hold(0.7, ON_S)).toMatchObject({ priority: 'medium', lifecycle: 'acknowledged' });
    expect(bench.hold(0.7, 10)).toMatchObject({ priority: 'high', lifecycle: 'unacknowledged', occurrence: 2 });
  });

  it('eases to a notice after the off-delay without sounding, and its beginning stays', () => {
    const bench = raised(0.7);
    const { sinceMs } = bench.alarm();
    bench.acknowledge();
    const { sinceMs: acknowledgedMs } = bench.alarm();
    expect(bench.hold(0.3, OFF_S + 10)).toMatchObject({
      condition: true,
      priority: 'medium',
      lifecycle: 'acknowledged',
      occurrence: 1,
      sinceMs: acknowledgedMs,
    });
    expect(acknowledgedMs).toBeGreaterThanOrEqual(sinceMs);
  });

  it('does not stay urgent for ever while the chance wanders about the notice limit', () => {
    const bench = raised(0.7);
    for (let i = 0; i < 6; i++) {
      bench.hold(0.17, 600);
      bench.hold(0.12, 600);
    }
    expect(bench.alarm().priority).toBe('medium');
  });
});

describe('what an alarm says', () => {
  it.each(['unacknowledged', 'acknowledged'])('keeps up with the chance while it stands %s, as no change of the alarm', (lifecycle) => {
    const bench = raised(0.3);
    if (lifecycle === 'acknowledged') bench.acknowledge();
    const { text: _text, ...before } = bench.alarm();
    const changes = bench.changes.length;
    expect(bench.hold(0.42, 10)).toMatchObject(before);
    expect(bench.alarm().text).toContain('chance 42 in 100');
    expect(bench.changes).toHaveLength(changes);
  });

  it('keeps up on the way to urgent and back', () => {
    const bench = raised(0.3);
    expect(bench.hold(0.7, 10)).toMatchObject({ priority: 'medium', text: expect.stringContaining('chance 70 in 100') });
    expect(bench.hold(0.7, ON_S)).toMatchObject({ priority: 'high', text: expect.stringContaining('chance 70 in 100') });
    expect(bench.hold(0.3, 10)).toMatchObject({ priority: 'high', text: expect.stringContaining('chance 30 in 100') });
    // Nothing of it is true any more: it says that, and when it goes.
    expect(bench.hold(0.1, 10)).toMatchObject({
      priority: 'high',
      condition: true,
      text: expect.stringMatching(/^The bank is expected to hold its floor of 30 % this night: .*\. The alarm is over once that has lasted 20 min\.$/),
    });
    expect(bench.hold(0.6, 10).text).toContain('chance 60 in 100');
  });

  it('stays when nothing new is known, until that itself is said', () => {
    const bench = raised(0.3);
    expect(bench.hold(null, 10).text).toContain('chance 30 in 100');
    expect(bench.hold(null, ON_S).text).toContain('is not known');
    expect(bench.hold(0.3, 10).text).toContain('is not known');
  });

  it('keeps up while it is over and not acknowledged, and says nothing new once it is', () => {
    const bench = raised(0.3);
    bench.hold(0.1, OFF_S + 10);
    const low = (lowPointPct: number) => nightSeen({ ...watchedOf(0.1), text: { ...watchedOf(0.1).text, lowPointPct } });
    const over = stepAlarms(bench.state, low(48), bench.rules, bench.time);
    expect(over.state.records['low-point']).toMatchObject({ lifecycle: 'returned', text: expect.stringContaining('lowest 48 %') });
    bench.acknowledge();
    const { text } = bench.alarm();
    expect(stepAlarms(bench.state, low(48), bench.rules, bench.time).state.records['low-point']?.text).toBe(text);
  });
});

describe('acknowledging', () => {
  it('binds to the occurrence that was seen', () => {
    const bench = raised();
    bench.hold(0.7, ON_S + 10);
    expect(bench.acknowledge(1)).toContain('raised anew');
    expect(bench.alarm().lifecycle).toBe('unacknowledged');
    expect(bench.acknowledge(2)).toBe('');
    expect(bench.alarm().lifecycle).toBe('acknowledged');
  });

  it('is refused with a reason where there is nothing to acknowledge', () => {
    const bench = raised();
    bench.acknowledge();
    const before = bench.state;
    expect(bench.acknowledge()).toContain('already');
    expect(alarmBench().acknowledge()).toContain('normal');
    expect(acknowledge(bench.state, 'cabin-hot', 1, 'test', bench.time, bench.rules)).toMatchObject({ changes: [], refused: 'there is no such alarm' });
    expect(bench.state).toEqual(before);
  });
});

describe('an input that is silent', () => {
  it('makes the alarm unknown, as loud as the notice it hides, and says why', () => {
    const bench = alarmBench();
    bench.hold(0.05, 60);
    expect(bench.hold(null, ON_S).condition).toBe(false);
    const alarm = bench.hold(null, 10);
    expect(alarm).toMatchObject({ condition: 'unknown', lifecycle: 'unacknowledged', priority: 'medium', occurrence: 1 });
    expect(alarm.text).toContain('shunt is silent');
  });

  it('does not make an urgent alarm less urgent', () => {
    expect(raised(0.7).hold(null, ON_S + 10)).toMatchObject({ condition: 'unknown', priority: 'high', lifecycle: 'unacknowledged', occurrence: 1 });
  });

  it('is news again where the alarm had been acknowledged', () => {
    const bench = raised(0.3);
    bench.acknowledge();
    expect(bench.hold(null, ON_S + 10)).toMatchObject({ condition: 'unknown', lifecycle: 'unacknowledged', occurrence: 2 });
  });

  it('that comes back returns the alarm to normal, or raises it', () => {
    const holds = alarmBench();
    holds.hold(null, ON_S + 10);
    holds.acknowledge();
    expect(holds.hold(0.05, OFF_S + 10)).toMatchObject({ condition: false, lifecycle: 'normal' });
    const falls = alarmBench();
    falls.hold(null, ON_S + 10);
    expect(falls.hold(0.6, ON_S + 10)).toMatchObject({ condition: true, priority: 'high', lifecycle: 'unacknowledged', occurrence: 2 });
  });

  it('does not leave it unknown for ever where the chance that came back wanders about its limit', () => {
    const bench = alarmBench();
    bench.hold(null, ON_S + 10);
    for (let i = 0; i < 6; i++) {
      bench.hold(0.21, 600);
      bench.hold(0.19, 600);
    }
    expect(bench.alarm().condition).toBe(true);
  });
});

describe('out of service', () => {
  it('raises nothing, and says so; back in service it begins anew', () => {
    const bench = raised(0.7);
    bench.rules = lowPointRules({ outOfService: true });
    expect(bench.hold(0.9, 7200)).toMatchObject({ condition: false, lifecycle: 'normal', suppression: 'out-of-service' });
    expect(bench.changes.map((c) => c.suppression)).toEqual(['none', 'out-of-service']);
    bench.rules = lowPointRules();
    expect(bench.hold(0.9, ON_S)).toMatchObject({ suppression: 'none', lifecycle: 'normal' });
    expect(bench.hold(0.9, 20)).toMatchObject({ lifecycle: 'unacknowledged', occurrence: 2 });
  });
});

describe('rules of the rig file', () => {
  it('move limits and delays', () => {
    const bench = alarmBench(lowPointRules({ notice: 0.1, urgent: 0.3, onDelay: 60, offDelay: 0, deadband: 0 }));
    expect(bench.hold(0.12, 70)).toMatchObject({ priority: 'medium', condition: true });
    expect(bench.hold(0.35, 70)).toMatchObject({ priority: 'high' });
    expect(bench.hold(0.09, 10)).toMatchObject({ condition: false, lifecycle: 'returned' });
  });

  it('need not be there: the built-in ones hold', () => {
    const bench = raised();
    const { state } = stepAlarms(bench.state, nightSeen(watchedOf(0.3)), lowPointRules(), bench.time);
    expect(state).toEqual(bench.state);
  });
});

describe('N08 a restart', () => {
  const restart = (bench: ReturnType<typeof alarmBench>): void => {
    const time = { ...bench.time, monoMs: 1000, bootId: 'boot-b' };
    const restored = restoreAlarms(JSON.stringify(bench.state), time);
    if (!restored) throw new Error('the alarm state was not restored');
    bench.state = restored;
    bench.time = time;
    bench.changes.length = 0;
  };

  it.each(['unacknowledged', 'acknowledged'])('keeps an alarm that stood %s, and does not raise it again', (lifecycle) => {
    const bench = raised();
    if (lifecycle === 'acknowledged') bench.acknowledge();
    const before = bench.alarm();
    restart(bench);
    expect(bench.hold(0.3, 7200)).toEqual({ ...before, raisesLastHour: 0 });
    expect(bench.changes).toEqual([]);
  });

  it('begins delays anew: what had nearly stood long enough must stand again', () => {
    const bench = alarmBench();
    bench.hold(0.3, ON_S);
    restart(bench);
    expect(bench.hold(0.3, ON_S).condition).toBe(false);
    expect(bench.hold(0.3, 10).condition).toBe(true);
  });

  it('with a damaged or foreign state gives none', () => {
    const bench = raised();
    for (const json of ['', '{', 'null', '[]', '{"version":99}', JSON.stringify({ ...bench.state, records: { 'low-point': null } })]) {
      expect(restoreAlarms(json, bench.time)).toBeNull();
    }
  });
});

describe('N10 a jump of the wall clock', () => {
  it.each([7, -7])('by %s hours neither cuts a delay short nor lengthens it', (hours) => {
    const bench = alarmBench();
    bench.hold(0.3, 300);
    bench.time = { ...bench.time, wallMs: bench.time.wallMs + hours * 3_600_000 };
    expect(bench.hold(0.3, 300).condition).toBe(false);
    expect(bench.hold(0.3, 10).condition).toBe(true);
  });
});
