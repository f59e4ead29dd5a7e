import { describe, expect, it } from 'vitest';
import { restoreAlarms } from '../../../engine/alarms/reduce.ts';
import { Alarm } from '../../../shared/schema/alarm.ts';
import { at, CABIN, CAUSE, FUSE, HOT, over, ownRules, type RuleBench, ruleBench, seen } from '../../helpers/engine-alarm.ts';

const HOUR_S = 3600;

function restart(bench: RuleBench, over: Partial<RuleBench['time']> = {}): void {
  bench.time = { ...bench.time, monoMs: 5000, bootId: `${bench.time.bootId}+`, ...over };
  const restored = restoreAlarms(JSON.stringify(bench.state), bench.time);
  if (!restored) throw new Error('the alarm state was not restored');
  bench.state = restored;
}

const raised = (...more: readonly object[]): RuleBench => {
  const bench = ruleBench(ownRules(HOT, ...more));
  bench.see(at(33), 70);
  return bench;
};
const deeds = (bench: RuleBench, id = 'hot') => bench.changes.flatMap((change) => (change.id === id ? change.deed : []));

describe('a shelved alarm', () => {
  it('is out of the way for its time, and comes back as news while it stands', () => {
    const bench = raised();
    expect(bench.shelve('hot', 30)).toBe('');
    expect(bench.alarm('hot')).toMatchObject({ suppression: 'shelved', lifecycle: 'unacknowledged', shelvedUntilMs: bench.time.wallMs + 1_800_000 });
    bench.see(at(33), 1790);
    expect(bench.alarm('hot').suppression).toBe('shelved');
    bench.see(at(33), 10);
    expect(bench.alarm('hot')).toMatchObject({ suppression: 'none', lifecycle: 'unacknowledged', occurrence: 2, shelvedUntilMs: null });
    expect(deeds(bench)).toEqual(['raised', 'shelved', 'unshelved']);
    expect(bench.changes[1]).toMatchObject({ by: 'test' });
  });

  it('tells its end in whole milliseconds, though the monotonic clock counts in parts of one', () => {
    const bench = raised();
    bench.time = { ...bench.time, monoMs: bench.time.monoMs + 0.4 };
    bench.shelve('hot', 30);
    bench.time = { ...bench.time, monoMs: bench.time.monoMs + 0.123 };
    bench.see(at(33), 130);
    const { shelvedUntilMs } = Alarm.parse(bench.alarm('hot'));
    const stored = JSON.stringify(bench.state);
    bench.state = restoreAlarms(stored, { ...bench.time, bootId: 'another', monoMs: 7.7, wallMs: bench.time.wallMs + 5000 }) as typeof bench.state;
    expect(Alarm.parse(bench.alarm('hot')).shelvedUntilMs).toBe(shelvedUntilMs);
  });

  it('comes back as news too where it had been acknowledged', () => {
    const bench = raised();
    bench.acknowledge('hot');
    bench.shelve('hot', 1);
    bench.see(at(33), 60);
    expect(bench.alarm('hot')).toMatchObject({ lifecycle: 'unacknowledged', occurrence: 2 });
  });

  it('leaves nothing to be seen of what came and went meanwhile', () => {
    const bench = ruleBench(ownRules(HOT));
    bench.shelve('hot', 60);
    bench.see(at(33), 300);
    expect(bench.alarm('hot')).toMatchObject({ condition: true, suppression: 'shelved' });
    bench.see(at(20), 300);
    bench.see(at(20), HOUR_S);
    expect(bench.alarm('hot')).toMatchObject({ condition: false, lifecycle: 'normal', suppression: 'none', occurrence: 1 });
    expect(deeds(bench)).toEqual(['shelved', 'raised', 'returned', 'unshelved']);
  });

  it('whose off-delay runs when the time is over is not told for its last seconds', () => {
    const bench = ruleBench(ownRules(HOT));
    bench.shelve('hot', 5);
    bench.see(at(33), 250);
    bench.see(at(20), 60);
    expect(bench.alarm('hot')).toMatchObject({ condition: false, lifecycle: 'normal', suppression: 'none' });
  });

  it('sounds when it gets worse than it was when it was put away', () => {
    const bench = raised();
    bench.shelve('hot', 60);
    bench.see(at(42), 70);
    expect(bench.alarm('hot')).toMatchObject({ suppression: 'none', priority: 'high', lifecycle: 'unacknowledged', occurrence: 2, shelvedUntilMs: null });
  });

  it('before anything has happened stays away up to its highest level', () => {
    const bench = ruleBench(ownRules(HOT));
    bench.shelve('hot', 60);
    bench.see(at(42), 600);
    expect(bench.alarm('hot')).toMatchObject({ suppression: 'shelved', priority: 'high', condition: true });
  });

  it('can be taken out again, acknowledged meanwhile, and shelved anew', () => {
    const bench = raised();
    expect(bench.unshelve('hot')).toBe('it is not shelved');
    bench.shelve('hot', 60);
    expect(bench.acknowledge('hot')).toBe('');
    expect(bench.unshelve('hot')).toBe('');
    bench.see(at(33), 10);
    expect(bench.alarm('hot')).toMatchObject({ suppression: 'none', lifecycle: 'acknowledged', occurrence: 1, acknowledgedBy: 'test' });
    bench.shelve('hot', 1);
    bench.shelve('hot', 60);
    bench.see(at(33), 600);
    expect(bench.alarm('hot').suppression).toBe('shelved');
  });

  it('that was raised on its shelf and taken out is to be seen, also when it is over right after', () => {
    const bench = ruleBench(ownRules(HOT));
    bench.shelve('hot', 60);
    bench.see(at(33), 100);
    bench.unshelve('hot');
    bench.see(at(20), 10);
    expect(bench.alarm('hot')).toMatchObject({ condition: true, lifecycle: 'unacknowledged' });
    bench.see(at(20), 120);
    expect(bench.alarm('hot').lifecycle).toBe('returned');
  });

  it.each([
    ['nothing', 10, 'there is no such alarm'],
    ['hot', 0, 'a minute at least'],
    ['hot', 24 * 60 + 1, 'a day at most'],
    ['hot', Number.NaN, 'a minute at least'],
  ])('is refused: %s for %s minutes', (id, minutes, words) => {
    expect(raised().shelve(id, minutes)).toContain(words);
  });

  it.each([7, -7])('keeps its length over a jump of the clock by %s hours, and its end is shown by the new clock', (hours) => {
    const bench = raised();
    bench.shelve('hot', 60);
    bench.time = { ...bench.time, wallMs: bench.time.wallMs + hours * 3_600_000 };
    bench.see(at(33), 1800);
    expect(bench.alarm('hot')).toMatchObject({ suppression: 'shelved', shelvedUntilMs: bench.time.wallMs + 1_800_000 });
    bench.see(at(33), 1800);
    expect(bench.alarm('hot').suppression).toBe('none');
  });

  it('goes on after a restart: by the clock where it is sure, else with what was left', () => {
    for (const [clockSure, leftS] of [
      [true, 1200],
      [false, 1800],
    ] as const) {
      const bench = raised();
      bench.shelve('hot', 60);
      bench.see(at(33), 1800);
      restart(bench, { wallMs: bench.time.wallMs + 600_000, clockSure });
      bench.see(at(33), leftS - 10);
      expect(bench.alarm('hot').suppression).toBe('shelved');
      bench.see(at(33), 10);
      expect(bench.alarm('hot')).toMatchObject({ suppression: 'none', occurrence: 2 });
    }
  });

  it('never lasts longer by a restart under a clock that went back', () => {
    const bench = raised();
    bench.shelve('hot', 60);
    bench.see(at(33), 1800);
    restart(bench, { wallMs: bench.time.wallMs - 86_400_000 });
    bench.see(at(33), 1800);
    expect(bench.alarm('hot').suppression).toBe('none');
  });
});

describe('an alarm whose cause is told', () => {
  const because = { because: ['cause'] };

  it('is held back from the first finding of the cause on, and says by which', () => {
    const bench = ruleBench(ownRules({ ...HOT, ...because, onDelay: 0 }, CAUSE));
    bench.see(at(33, 1), 10);
    expect(bench.alarm('hot')).toMatchObject({ suppression: 'by-design', heldBackBy: 'cause', condition: true });
    expect(bench.alarm('cause').condition).toBe(false);
    expect(deeds(bench)).toEqual(['held-back']);
  });

  it('makes the cause as loud as what it hides', () => {
    const bench = ruleBench(ownRules({ ...HOT, ...because }, CAUSE));
    bench.see(at(42, 1), 300);
    expect(bench.alarm('cause')).toMatchObject({
      priority: 'high',
      lifecycle: 'unacknowledged',
      suppression: 'none',
      text: expect.stringMatching(/ It holds back: Hot\.$/),
    });
    bench.see(at(20, 1), 600);
    expect(bench.alarm('cause').priority).toBe('low');
  });

  it('does so too where it is not known because of it', () => {
    const bench = ruleBench(ownRules({ ...HOT, ...because }, CAUSE));
    bench.see(at(null, 1), 40);
    bench.acknowledge('cause');
    bench.see(at(null, 1), 120);
    expect(bench.alarm('hot')).toMatchObject({ condition: 'unknown', suppression: 'by-design' });
    expect(bench.alarm('cause')).toMatchObject({ priority: 'medium', lifecycle: 'unacknowledged', occurrence: 2 });
  });

  it('N02: leaves nothing behind when all comes back with the cause, after its settling time', () => {
    const sensors = Array.from({ length: 10 }, (_, i) => ({
      id: `silent-${i}`,
      when: { watch: CABIN, silent: 60 },
      priority: 'low',
      onDelay: 0,
      offDelay: 300,
      ...because,
    }));
    const bench = ruleBench(ownRules(CAUSE, ...sensors));
    const silent = (seconds: number, cause: number) => seen({ [FUSE]: cause }, { [CABIN]: seconds });
    bench.see(silent(70, 1), 600);
    bench.see(silent(70, 0), 40);
    bench.see(silent(0, 0), 600);
    const told = bench.changes.filter(({ suppression, deed }) => suppression === 'none' && deed !== 'let-go');
    expect(told.map(({ id, deed }) => [id, deed])).toEqual([
      ['cause', 'raised'],
      ['cause', 'returned'],
    ]);
    for (const { id } of sensors) expect(bench.alarm(id)).toMatchObject({ condition: false, lifecycle: 'normal', suppression: 'none' });
  });

  it('is heard when it still stands after the settling time', () => {
    const bench = ruleBench(ownRules({ ...HOT, ...because }, CAUSE));
    bench.see(at(33, 1), 300);
    bench.see(at(33, 0), 60);
    expect(bench.alarm('hot').suppression).toBe('by-design');
    bench.see(at(33, 0), 20);
    expect(bench.alarm('hot')).toMatchObject({ suppression: 'none', heldBackBy: null, lifecycle: 'unacknowledged', occurrence: 1 });
    expect(deeds(bench)).toEqual(['held-back', 'let-go']);
  });

  it('that had been heard before goes on afterwards as the same', () => {
    const bench = raised({ ...CAUSE });
    bench.rules = ownRules({ ...HOT, ...because }, CAUSE);
    bench.see(at(33, 1), 100);
    expect(bench.alarm('hot')).toMatchObject({ suppression: 'by-design', lifecycle: 'unacknowledged' });
    bench.see(at(33, 0), 100);
    expect(bench.alarm('hot')).toMatchObject({ suppression: 'none', lifecycle: 'unacknowledged', occurrence: 1 });
    bench.see(at(20, 0), 130);
    expect(bench.alarm('hot').lifecycle).toBe('returned');
  });

  it('names the cause of its cause, where that is what is heard', () => {
    const bench = ruleBench(ownRules({ ...HOT, because: ['middle'] }, { ...HOT, id: 'middle', because: ['cause'] }, CAUSE));
    bench.see(at(33, 1), 200);
    expect(bench.alarm('hot').heldBackBy).toBe('cause');
    expect(bench.alarm('middle').heldBackBy).toBe('cause');
    expect(bench.alarm('cause').priority).toBe('medium');
  });

  it.each([
    ['shelved', (bench: RuleBench) => bench.shelve('cause', 60)],
    [
      'out of service',
      (bench: RuleBench) => {
        bench.rules = ownRules({ ...HOT, ...because }, { ...CAUSE, outOfService: true });
      },
    ],
  ])('is heard itself where the cause is %s', (_, silence) => {
    const bench = ruleBench(ownRules({ ...HOT, ...because }, CAUSE));
    bench.see(at(33, 1), 300);
    silence(bench);
    bench.see(at(33, 1), 10);
    expect(bench.alarm('hot')).toMatchObject({ suppression: 'none', lifecycle: 'unacknowledged' });
  });
});

describe('a rule that is edited while its alarm stands', () => {
  it('and removed takes the alarm with it, says so, and counts on when it comes back', () => {
    const bench = raised();
    bench.rules = ownRules();
    bench.see(at(33), 600);
    expect(deeds(bench)).toEqual(['raised', 'out-of-service']);
    expect(bench.changes.at(-1)).toMatchObject({ condition: false, lifecycle: 'normal', text: 'The rule has been removed.' });
    bench.rules = ownRules(HOT);
    bench.see(at(33), 80);
    expect(bench.alarm('hot')).toMatchObject({ lifecycle: 'unacknowledged', occurrence: 2 });
  });

  it('to look at something else is a new matter: what was acknowledged of the old is not for the new', () => {
    const bench = raised();
    bench.acknowledge('hot');
    bench.rules = ownRules({ ...HOT, levels: undefined, when: over('outside.temperature', 20), priority: 'medium' });
    bench.see(seen({ [CABIN]: 33, 'outside.temperature': 33 }), 80);
    expect(bench.alarm('hot')).toMatchObject({ lifecycle: 'unacknowledged', occurrence: 2 });
    expect(deeds(bench)).toEqual(['raised', 'acknowledged', 'returned', 'raised']);
  });

  it('in its limits or delays goes on as it is', () => {
    const bench = raised();
    bench.acknowledge('hot');
    bench.rules = ownRules({ ...HOT, onDelay: 0, levels: [{ priority: 'medium', when: over(CABIN, 32) }, HOT.levels[1]] });
    bench.see(at(33), 80);
    expect(bench.alarm('hot')).toMatchObject({ lifecycle: 'acknowledged', occurrence: 1 });
  });

  it('to a limit that is not passed returns after the off-delay', () => {
    const bench = raised();
    bench.rules = ownRules({ ...HOT, levels: [{ priority: 'medium', when: over(CABIN, 36) }, HOT.levels[1]] });
    bench.see(at(33), 130);
    expect(bench.alarm('hot')).toMatchObject({ condition: false, lifecycle: 'returned' });
  });
});

describe('an alarm that counts', () => {
  const SILENT = { id: 'silent', when: { watch: 'sensors.silent', above: 0 }, priority: 'low', onDelay: 60, offDelay: 120 };
  const names = (...silent: readonly string[]) => seen({ 'sensors.silent': silent.length }, {}, { 'sensors.silent': silent });

  it('is news again when another name joins after it was acknowledged, once it has stood for the on-delay', () => {
    const bench = ruleBench(ownRules(SILENT));
    bench.see(names('cabin'), 80);
    bench.see(names('cabin', 'outside'), 120);
    expect(bench.alarm('silent').occurrence).toBe(1);
    bench.acknowledge('silent');
    bench.see(names('cabin', 'outside', 'bank'), 60);
    expect(bench.alarm('silent').occurrence).toBe(1);
    bench.see(names('cabin', 'outside', 'bank'), 20);
    expect(bench.alarm('silent')).toMatchObject({ occurrence: 2, lifecycle: 'unacknowledged' });
    expect(deeds(bench, 'silent')).toEqual(['raised', 'acknowledged', 'worse']);
  });

  it('takes a name that comes and goes for the same within the off-delay, and for a new one after it', () => {
    const bench = ruleBench(ownRules(SILENT));
    bench.see(names('cabin', 'outside'), 80);
    bench.acknowledge('silent');
    bench.see(names('cabin'), 100);
    bench.see(names('cabin', 'outside'), 300);
    expect(bench.alarm('silent').occurrence).toBe(1);
    bench.see(names('cabin'), 130);
    bench.see(names('cabin', 'outside'), 80);
    expect(bench.alarm('silent').occurrence).toBe(2);
  });
});

describe('an alarm that flaps', () => {
  it('is said to chatter from the third raise within an hour on, and not any more once an hour is over', () => {
    const bench = ruleBench(ownRules({ ...HOT, offDelay: 60 }));
    const flap = () => {
      bench.see(at(33), 80);
      bench.see(at(20), 80);
    };
    flap();
    flap();
    expect(bench.alarm('hot')).toMatchObject({ raisesLastHour: 2, chattering: false });
    flap();
    expect(bench.alarm('hot')).toMatchObject({ raisesLastHour: 3, chattering: true });
    restart(bench, { wallMs: bench.time.wallMs + 60_000 });
    expect(bench.alarm('hot').raisesLastHour).toBe(3);
    bench.see(at(20), HOUR_S);
    expect(bench.alarm('hot')).toMatchObject({ raisesLastHour: 0, chattering: false });
  });
});

describe('the state of the alarms', () => {
  it('holds nothing of alarms that never happened', () => {
    const bench = ruleBench(ownRules(HOT, CAUSE));
    bench.see(at(20), 600);
    bench.see(at(33), 20);
    bench.see(at(20), 10);
    expect(bench.state.records).toEqual({});
  });

  it('is the same object while nothing changes', () => {
    const bench = raised(CAUSE);
    bench.see(at(33), 10);
    const { state } = bench;
    bench.see(at(33), 600);
    expect(bench.state).toBe(state);
  });

  it('of a version that knew only one alarm is taken over', () => {
    const bench = ruleBench(ownRules(HOT));
    const record = { condition: true, lifecycle: 'acknowledged', suppression: 'none', priority: 'high', text: 'low', sinceMs: 5, occurrence: 7, pending: null };
    const restored = restoreAlarms(JSON.stringify({ version: 1, bootId: 'boot-0', lowPoint: record }), bench.time);
    expect(restored?.records['low-point']).toMatchObject(record);
    expect(restoreAlarms(JSON.stringify({ version: 1, bootId: 'boot-0' }), bench.time)).toBeNull();
  });

  it('takes an id that is a name of every object for what it is', () => {
    const bench = ruleBench(ownRules({ ...HOT, id: 'constructor' }));
    bench.see(at(20), 10);
    expect(bench.state.records).toEqual({});
    bench.see(at(33), 80);
    restart(bench);
    expect(bench.alarm('constructor')).toMatchObject({ condition: true, occurrence: 1 });
  });
});
