import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import { FILE, type NightBench, nightBench } from './night-bench.ts';

const MIN = 60;
const NIGHT = Date.UTC(2026, 10, 28, 1);
/** Nobody is to be called at night but by critical alarms, and by those only in the rig. */
const MUTE = { low: { first: ['phones'], atNight: [] }, medium: { first: ['phones'], atNight: [] }, high: { first: ['phones'], atNight: [] } };

beforeEach(() => {
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout', 'setInterval', 'clearInterval'] });
});
afterEach(() => {
  vi.useRealTimers();
});

/** A rig at 02:00 whose bank may fall under its floor, and whose owner has been told. */
async function noticed(): Promise<NightBench> {
  const bench = await nightBench({ startMs: NIGHT });
  await bench.pass(20 * MIN);
  expect(bench.news()).toEqual([]);
  bench.night.belowFloorProbability = 0.35;
  await bench.pass(40 * MIN);
  expect(bench.news()).toEqual(['alarm low-point medium @30']);
  return bench;
}

describe('a night with a notice standing', () => {
  test('the shunt falls silent at 02:00: one alarm within 16 minutes, louder than what it hides, and again until somebody answers', async () => {
    const bench = await noticed();
    Object.assign(bench.says, { v: null, a: null });
    await bench.pass(14 * MIN);
    expect(bench.news()).toEqual([]);
    expect(bench.alarm('low-point')).toMatchObject({ condition: true, suppression: 'none' });
    await bench.pass(2 * MIN);
    expect(bench.news()).toEqual(['alarm sensor-silent high @75']);
    await bench.pass(14 * MIN);
    expect(bench.alarm('low-point')).toMatchObject({ condition: 'unknown', suppression: 'by-design', heldBackBy: 'sensor-silent' });
    expect(bench.alarm('sensor-silent').text).toMatch(/^Nothing comes from bank voltage and bank current\..*It holds back: The bank tonight\.$/);
    expect(bench.news()).toEqual([]);
    await bench.pass(MIN);
    expect(bench.news()).toEqual(['alarm sensor-silent high @90']);
    await bench.command({ kind: 'acknowledge', alarmId: 'sensor-silent', occurrence: bench.alarm('sensor-silent').occurrence });
    await bench.pass(40 * MIN);
    expect(bench.news()).toEqual([]);
    // The shunt speaks again, and what it hid is still so: told as what it is.
    Object.assign(bench.says, { v: 26, a: -10 });
    await bench.pass(15 * MIN);
    expect(bench.alarm('sensor-silent')).toMatchObject({ condition: false });
    expect(bench.alarm('low-point')).toMatchObject({ condition: true, suppression: 'none', lifecycle: 'unacknowledged', priority: 'medium' });
    await bench.close();
  });

  test('the shunt is off for twelve minutes of every thirteen: the urgent alarm that sounds is not silenced by it', async () => {
    const bench = await noticed();
    bench.night.belowFloorProbability = 0.7;
    await bench.pass(30 * MIN);
    expect(bench.news()).toEqual(['alarm low-point high @70', 'alarm low-point high @85']);
    for (let i = 0; i < 4; i += 1) {
      Object.assign(bench.says, { v: null, a: null });
      await bench.pass(12 * MIN);
      Object.assign(bench.says, { v: 26.4, a: -10 });
      await bench.pass(MIN);
    }
    expect(bench.news().filter((line) => line.startsWith('alarm low-point high'))).toHaveLength(3);
    await bench.close();
  });

  test('what the shunt says is no longer believed: as loud as if it were silent', async () => {
    const bench = await noticed();
    // A board that began to send mA: out of range at first, then in it by chance.
    bench.says.a = 90_000;
    await bench.pass(MIN);
    bench.says.a = 400;
    await bench.pass(16 * MIN);
    expect(bench.news()).toEqual(['alarm sensor-suspect high @76']);
    await bench.pass(13 * MIN);
    expect(bench.alarm('low-point')).toMatchObject({ condition: 'unknown', heldBackBy: 'sensor-suspect' });
    // And then it dies.
    bench.says.a = null;
    bench.news();
    await bench.pass(40 * MIN);
    expect(bench.alarm('sensor-silent')).toMatchObject({ condition: true, priority: 'high' });
    await bench.close();
  });

  test('no projection comes any more, while a sensor of no matter is silent: told as what it is, not as that sensor', async () => {
    const bench = await noticed();
    bench.says.d = null;
    await bench.pass(17 * MIN);
    for (const { id, occurrence } of bench.alarms()) await bench.command({ kind: 'acknowledge', alarmId: id, occurrence });
    bench.jobs.fail = true;
    await bench.pass(50 * MIN);
    expect(bench.news()).toEqual(['alarm low-point medium @115']);
    expect(bench.alarm('low-point')).toMatchObject({
      condition: 'unknown',
      suppression: 'none',
      text: 'Whether the bank holds this night is not known: the last projection is too old.',
    });
    expect(bench.alarm('sensor-silent')).toMatchObject({ priority: 'low', lifecycle: 'acknowledged' });
    await bench.close();
  });

  test('the broker dies: one alarm after two minutes, and a louder one once what it hides would have been', async () => {
    const bench = await noticed();
    bench.brokerIs(false);
    await bench.pass(13 * MIN);
    expect(bench.news()).toEqual(['alarm broker-lost medium @62']);
    await bench.pass(7 * MIN);
    expect(bench.news()).toEqual(['alarm broker-lost high @75']);
    expect(bench.alarms().filter(({ suppression }) => suppression === 'none')).toMatchObject([{ id: 'broker-lost' }]);
    bench.brokerIs(true);
    await bench.pass(30 * MIN);
    expect(bench.news()).toEqual(['returned broker-lost low @83']);
    expect(bench.alarms().map(({ id }) => id)).toEqual(['low-point', 'broker-lost']);
    await bench.close();
  });
});

test('a clock that is set seven hours ahead ends no delay before its time', async () => {
  const hot = { id: 'hot', when: { watch: 'cabin.temperature', above: 30 }, priority: 'high', onDelay: 300, offDelay: 300 };
  const bench = await nightBench({ startMs: NIGHT, file: { ...FILE, alarms: [hot] } });
  await bench.pass(15 * MIN);
  bench.says.c = 33;
  await bench.pass(MIN);
  bench.hand.jumpMs += 7 * 3_600_000;
  await bench.pass(3 * MIN);
  expect(bench.news()).toEqual([]);
  await bench.pass(2 * MIN);
  expect(bench.news()).toEqual(['alarm hot high @20']);
  bench.says.c = 22;
  await bench.pass(MIN);
  bench.hand.jumpMs -= 7 * 3_600_000;
  await bench.pass(3 * MIN);
  expect(bench.alarm('hot').condition).toBe(true);
  await bench.pass(2 * MIN);
  expect(bench.alarm('hot').condition).toBe(false);
  await bench.close();
});

describe('a watch over somebody inside, by night', () => {
  const order = { thermometers: ['cabin.temperature', 'dog.crate'], warmestC: 28, coldestC: 10, near: 'Bob, next pitch', understood: true };
  const arm = (bench: NightBench, hours = 3) =>
    bench.command({ kind: 'arm-watch', order: { ...order, untilMs: bench.live().port.nowMs() + hours * 3_600_000 } });

  /** Ready to be armed, by an owner who wants no calls at night. */
  async function ready(critical: object = { first: ['tablet', 'phones'], atNight: [] }): Promise<NightBench> {
    const bench = await nightBench({ startMs: NIGHT, file: { ...FILE, callOut: { ...MUTE, critical } } });
    await bench.pass(20 * MIN);
    await bench.command({ kind: 'try-routes', route: null });
    await bench.pass(5);
    bench.received();
    return bench;
  }
  async function armed(): Promise<NightBench> {
    const bench = await ready();
    expect(await arm(bench)).toMatchObject({ done: true, reason: '' });
    await bench.pass(55);
    expect(bench.news()).toEqual([]);
    return bench;
  }

  test('it gets warm fast: the phone is told within a minute of the first sign, whatever the quiet hours, and of the limit too', async () => {
    const bench = await armed();
    bench.says.c = 24.1;
    await bench.pass(MIN);
    expect(bench.news()).toEqual(['alarm watch-rising critical @21']);
    bench.says.c = 28.1;
    await bench.pass(MIN);
    expect(bench.news()).toEqual(['alarm watch-hot critical @22']);
    expect(bench.alarm('watch-hot').text).toBe(
      'It is too hot for who is inside: cabin temperature 28.1°C and dog.crate 22°C. Go there now, or have someone near open the doors. Minutes count.',
    );
    // The box restarts with nobody having answered: told again when its time has come, not for the restart.
    await bench.restart(30);
    await bench.pass(5 * MIN);
    expect(bench.news()).toEqual([]);
    expect(bench.alarm('watch-hot')).toMatchObject({ lifecycle: 'unacknowledged', occurrence: 1 });
    await bench.pass(10 * MIN);
    expect(bench.news()).toContain('alarm watch-hot critical @37');
    await bench.close();
  });

  test('where only the tablet in the rig is to be called, the phone of who is away is told as soon', async () => {
    const bench = await ready({ first: ['tablet'] });
    expect(await arm(bench)).toMatchObject({ done: true });
    await bench.pass(55);
    bench.says.c = 28.1;
    await bench.pass(MIN);
    expect(bench.news()).toEqual(['alarm watch-hot critical @21', 'alarm watch-rising critical @21']);
    await bench.close();
  });

  test('thermometers that fall silent and a heartbeat that fails are told within minutes', async () => {
    const bench = await armed();
    bench.says.d = null;
    await bench.pass(3 * MIN);
    expect(bench.news()).toEqual(['alarm watch-blind high @23']);
    bench.says.c = null;
    await bench.pass(3 * MIN);
    expect(bench.news()).toEqual(['alarm watch-blind critical @26']);
    Object.assign(bench.says, { c: 22, d: 22 });
    await bench.pass(5 * MIN);
    bench.news();
    bench.beat.answer = { kind: 'later', reason: 'no way out' };
    await bench.pass(6 * MIN);
    expect(bench.news()).toEqual(['alarm watch-blind high @35']);
    expect(bench.alarm('watch-blind').text).toContain('the heartbeat fails');
    await bench.close();
  });

  test('a restart in quiet makes no noise and goes on; somebody who does not come back is told of', async () => {
    const bench = await armed();
    await bench.restart(60);
    await bench.pass(30 * MIN);
    expect(bench.news()).toEqual([]);
    expect(bench.live().port.part('watch')).toMatchObject({
      armed: { near: 'Bob, next pitch' },
      notes: ['The box has restarted since it was armed. The watch went on.'],
    });
    await bench.pass(170 * MIN);
    expect(bench.news()).toEqual(['alarm watch-blind high @217']);
    expect(bench.alarm('watch-blind').text).toContain('nobody has come back');
    await bench.close();
  });

  test('one of its alarms is put away: it is not armed; and none can be put away while it is', async () => {
    const bench = await ready();
    const shelve = { kind: 'shelve', alarmId: 'watch-hot', minutes: 600 };
    expect(await bench.command(shelve)).toMatchObject({ done: true });
    expect((await arm(bench)).reason).toBe('The alarm "Too hot for who is inside" is shelved, so the watch would not call: take it off its shelf first.');
    expect(await bench.command({ kind: 'unshelve', alarmId: 'watch-hot' })).toMatchObject({ done: true });
    expect(await arm(bench)).toMatchObject({ done: true });
    expect(await bench.command(shelve)).toMatchObject({ done: false, reason: 'the watch is armed: acknowledge the alarm, or disarm the watch' });
    bench.replaceFile({ ...FILE, alarms: [{ id: 'watch-hot', outOfService: true }] });
    await bench.pass(3 * MIN);
    expect(bench.news()).toEqual(['alarm watch-blind high @22']);
    expect(bench.alarm('watch-blind').text).toContain('"Too hot for who is inside" is out of service');
    await bench.close();
  });
});
