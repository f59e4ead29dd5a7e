import { describe, expect, it } from 'vitest';
import { loud, planBench } from '../../helpers/notify-plan.ts';

const HIGH = { high: { first: ['phones'], then: [{ after: 600, routes: ['post'] }] }, repeatEvery: 900 };

describe('who is called, and when', () => {
  it('calls the first routes at once, and once', () => {
    const bench = planBench();
    expect(bench.step([loud({ priority: 'medium' })]).tell).toEqual([{ why: 'raised', routes: ['tablet', 'phones'] }]);
    expect(bench.hold([loud({ priority: 'medium' })], 7200)).toEqual([]);
  });

  it('goes to who is next when nobody acknowledges, and repeats high alarms to all of them', () => {
    const told = planBench(HIGH).hold([loud()], 1820);
    expect(told).toEqual([
      { atS: 10, why: 'raised', routes: ['phones'] },
      { atS: 610, why: 'next', routes: ['post'] },
      { atS: 910, why: 'again', routes: ['phones', 'post'] },
      { atS: 1810, why: 'again', routes: ['phones', 'post'] },
    ]);
  });

  it('goes again by a route that is named as the next', () => {
    const again = planBench({ medium: { first: ['phones'], then: [{ after: '10 min', routes: ['phones', 'post'] }] } });
    expect(again.hold([loud({ priority: 'medium' })], 7200)).toEqual([
      { atS: 10, why: 'raised', routes: ['phones'] },
      { atS: 610, why: 'next', routes: ['phones', 'post'] },
    ]);
  });

  it('says for how long nobody has acknowledged it, and numbers the notices of an occurrence', () => {
    const bench = planBench(HIGH);
    const first = bench.step([loud()]).tellings[0];
    const next = bench.step([loud()], 600).tellings[0];
    expect(first).toMatchObject({ standsMs: 0, count: 1 });
    expect(next).toMatchObject({ standsMs: 600_000, count: 2 });
  });

  it('N10: keeps its spans when the wall clock jumps', () => {
    const bench = planBench(HIGH);
    bench.step([loud()]);
    bench.setClock(7 * 3600);
    expect(bench.hold([loud()], 590)).toEqual([]);
    expect(bench.step([loud()]).tell).toEqual([{ why: 'next', routes: ['post'] }]);
  });

  it.each([
    ['acknowledged', { lifecycle: 'acknowledged' as const, acknowledgedBy: 'Ann' }],
    ['shelved', { suppression: 'shelved' as const }],
    ['held back by design', { suppression: 'by-design' as const, heldBackBy: 'broker-lost' }],
    ['out of service', { suppression: 'out-of-service' as const, lifecycle: 'normal' as const }],
  ])('stops when %s, with nobody told that it is over', (_, part) => {
    const bench = planBench(HIGH);
    bench.step([loud()]);
    const { tell, stop } = bench.step([loud(part)]);
    expect(tell).toEqual([]);
    expect(stop).toMatchObject([{ alarmId: 'bank-low', occurrence: 1, over: false }]);
    expect(bench.hold([loud(part)], 3600)).toEqual([]);
  });

  it('stops when it returns, and has those who were told hear that it is over, once', () => {
    const bench = planBench(HIGH);
    bench.step([loud()]);
    const gone = loud({ condition: false, lifecycle: 'returned', text: 'It has recovered.' });
    expect(bench.step([gone]).stop).toMatchObject([{ over: true, text: 'It has recovered.', firstOccurrence: 1 }]);
    expect(bench.step([gone])).toMatchObject({ tell: [], stop: [] });
  });

  it('says that an acknowledged alarm is over, too', () => {
    const bench = planBench(HIGH);
    bench.step([loud()]);
    bench.step([loud({ lifecycle: 'acknowledged' })]);
    expect(bench.step([loud({ lifecycle: 'normal', condition: false })]).stop).toMatchObject([{ over: true }]);
  });

  it('begins anew when it gets worse, even after an acknowledgement', () => {
    const bench = planBench({ ...HIGH, medium: { first: ['tablet'] } });
    bench.step([loud({ priority: 'medium' })]);
    bench.step([loud({ priority: 'medium', lifecycle: 'acknowledged' })]);
    expect(bench.step([loud({ priority: 'high', occurrence: 2 })]).tell).toEqual([{ why: 'raised', routes: ['phones'] }]);
    expect(bench.hold([loud({ priority: 'high', occurrence: 2 })], 600)).toEqual([{ atS: 600, why: 'next', routes: ['post'] }]);
  });

  it('calls anew after shelving, and goes on as before after being held back by design', () => {
    const shelved = planBench(HIGH);
    shelved.step([loud()]);
    shelved.step([loud({ suppression: 'shelved' })]);
    expect(shelved.step([loud()]).tell).toEqual([{ why: 'raised', routes: ['phones'] }]);
    const held = planBench(HIGH);
    held.step([loud()]);
    held.step([loud({ suppression: 'by-design' })]);
    expect(held.step([loud()]).tell).toEqual([]);
    expect(held.hold([loud()], 580)).toEqual([{ atS: 580, why: 'next', routes: ['post'] }]);
  });

  it('takes back the call of a rule that is no more', () => {
    const bench = planBench(HIGH);
    bench.step([loud()]);
    expect(bench.step([]).stop).toMatchObject([{ over: false, reason: 'its rule was taken out' }]);
    expect(bench.plan().calls).toEqual({});
  });
});

describe('an alarm that flaps', () => {
  const flap = (occurrence: number) => loud({ occurrence, chattering: occurrence >= 3, raisesLastHour: occurrence });
  const rest = (occurrence: number) => loud({ occurrence, chattering: occurrence >= 3, lifecycle: 'returned', condition: false });

  it('C15: says so once, not at every turn; not each time that it is over', () => {
    const bench = planBench();
    const told: unknown[] = [];
    for (let occurrence = 1; occurrence <= 8; occurrence += 1) {
      for (const alarm of [flap(occurrence), rest(occurrence)]) {
        const { tell, stop } = bench.step([alarm], 60);
        told.push(...tell.map(({ why }) => `${occurrence} ${why}`), ...stop.map(() => `${occurrence} over`));
      }
    }
    expect(told).toEqual(['1 raised', '1 over', '2 raised', '2 over', '3 flaps']);
  });

  it('that was told already says that it flaps, and is over when it rests', () => {
    const bench = planBench();
    bench.step([flap(2)]);
    expect(bench.step([flap(3)]).tell).toEqual([{ why: 'flaps', routes: ['tablet', 'phones'] }]);
    expect(bench.step([rest(3)]).stop).toEqual([]);
    expect(bench.step([flap(4)]).tell).toEqual([]);
    bench.step([rest(4)]);
    expect(bench.step([{ ...rest(4), chattering: false }]).stop).toMatchObject([{ over: true, firstOccurrence: 2, occurrence: 4 }]);
  });

  it('is told anew when it gets worse', () => {
    const bench = planBench();
    bench.step([flap(2)]);
    bench.step([flap(3)]);
    expect(bench.step([{ ...flap(4), priority: 'critical' }]).tell).toEqual([{ why: 'flaps', routes: ['tablet', 'phones'] }]);
  });

  it('and is high still goes to who is next when nobody acknowledges', () => {
    const bench = planBench(HIGH);
    expect(bench.step([flap(3)]).tell).toMatchObject([{ why: 'flaps' }]);
    const told: string[] = [];
    for (let turn = 0; turn < 7; turn += 1)
      for (const alarm of [rest(3 + turn), flap(4 + turn)]) told.push(...bench.step([alarm], 60).tell.map(({ why }) => why));
    expect(told).toEqual(['next']);
  });
});

describe('quiet hours', () => {
  const NIGHT = { quietHours: ['22:00', '07:00'], low: { first: ['phones'], atNight: [] }, critical: { first: ['phones'], atNight: ['post'] } };
  const toNight = (bench: ReturnType<typeof planBench>, hours = 11) => bench.step([], hours * 3600);

  it('a low alarm of the night waits for the morning, then it is told', () => {
    const bench = planBench(NIGHT);
    toNight(bench);
    const low = loud({ priority: 'low' });
    expect(bench.hold([low], 8 * 3600 - 30)).toEqual([]);
    expect(bench.step([low], 60).tell).toEqual([{ why: 'raised', routes: ['phones'] }]);
  });

  it('who is next is called so long after the morning, not together with the first', () => {
    const bench = planBench({ ...NIGHT, low: { first: ['phones'], atNight: [], then: [{ after: 1800, routes: ['post'] }] } });
    toNight(bench);
    const low = loud({ priority: 'low' });
    expect(bench.hold([low], 8 * 3600 - 30)).toEqual([]);
    expect(bench.hold([low], 1860)).toEqual([
      { atS: 30, why: 'raised', routes: ['phones'] },
      { atS: 1830, why: 'next', routes: ['post'] },
    ]);
  });

  it('N04: a critical alarm takes its routes of the night and the tablet, whatever stands there', () => {
    const bench = planBench(NIGHT);
    toNight(bench);
    expect(bench.step([loud({ priority: 'critical' })]).tell).toEqual([{ why: 'raised', routes: ['post', 'tablet'] }]);
    const mute = planBench({ ...NIGHT, critical: { first: ['phones'], atNight: [] } });
    toNight(mute);
    expect(mute.step([loud({ priority: 'critical' })]).tell).toEqual([{ why: 'raised', routes: ['tablet'] }]);
  });

  it('begin over midnight and end at seven', () => {
    const bench = planBench(NIGHT);
    toNight(bench, 18.99);
    expect(bench.step([loud({ priority: 'low' })]).tell).toEqual([]);
    expect(bench.step([loud({ priority: 'low' })], 60).tell).toHaveLength(1);
  });

  it("a rule's own routes stand in for both lists, but a mute night stays mute", () => {
    const bench = planBench(NIGHT, { routesOf: () => ['lamp'] });
    expect(bench.step([loud({ priority: 'low' })]).tell).toEqual([{ why: 'raised', routes: ['lamp'] }]);
    toNight(bench);
    expect(bench.step([loud({ priority: 'low', occurrence: 2 })]).tell).toEqual([]);
    expect(bench.step([loud({ id: 'x', priority: 'critical' })]).tell).toEqual([{ why: 'raised', routes: ['lamp', 'tablet'] }]);
  });
});

describe('a call that reaches nobody', () => {
  it('goes to who is next after two minutes, then to every route there is', () => {
    const bench = planBench({ high: { first: ['tablet'], then: [{ after: 3600, routes: ['phones'] }] }, repeatEvery: 7200 });
    bench.reaches(false);
    expect(bench.hold([loud()], 600)).toEqual([
      { atS: 10, why: 'raised', routes: ['tablet'] },
      { atS: 130, why: 'next', routes: ['phones'] },
      { atS: 250, why: 'next', routes: ['post'] },
    ]);
  });

  it('waits as planned once it has got through, and at all times when it is not pressing', () => {
    expect(planBench({ high: { first: ['phones'] } }).hold([loud()], 600)).toHaveLength(1);
    const bench = planBench();
    bench.reaches(false);
    expect(bench.hold([loud({ priority: 'medium' })], 600)).toHaveLength(1);
  });
});

describe('N08: after a restart', () => {
  it('what was told is not told again', () => {
    const bench = planBench(HIGH);
    bench.step([loud()]);
    bench.restart(20);
    expect(bench.step([loud()]).tell).toEqual([]);
  });

  it('the time away counts towards who is next and the repeat', () => {
    const bench = planBench(HIGH);
    bench.step([loud()]);
    bench.restart(590);
    expect(bench.step([loud()]).tell).toEqual([{ why: 'next', routes: ['post'] }]);
    bench.restart(290);
    expect(bench.step([loud()]).tell).toEqual([{ why: 'again', routes: ['phones', 'post'] }]);
  });

  it('with a clock that cannot be trusted the time away does not count', () => {
    const bench = planBench(HIGH);
    bench.step([loud()]);
    bench.restart(30, false, 300_000_000);
    expect(bench.hold([loud()], 600)).toEqual([]);
    expect(bench.step([loud()]).tell).toEqual([{ why: 'next', routes: ['post'] }]);
  });

  it('what got worse meanwhile is told', () => {
    const bench = planBench(HIGH);
    bench.step([loud()]);
    bench.restart(20);
    expect(bench.step([loud({ priority: 'critical', occurrence: 2 })]).tell).toEqual([{ why: 'raised', routes: ['tablet', 'phones'] }]);
  });
});
