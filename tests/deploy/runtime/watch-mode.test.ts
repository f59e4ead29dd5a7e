import { describe, expect, test } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { createAlarmLog } from '../../../deploy/runtime/alarm-log.ts';
import { createWatchMode, loadWatch, type WatchMode } from '../../../deploy/runtime/watch-mode.ts';
import type { WatchSituation } from '../../../deploy/runtime/watch-refusals.ts';
import type { RigStore } from '../../../shared/ports.ts';
import type { RouteView } from '../../../shared/schema/notice.ts';
import { WatchOrder, WatchView } from '../../../shared/schema/watch-mode.ts';
import { alarmOf } from '../../helpers/web-alarm.ts';
import { reachView } from '../../helpers/web-alarm-book.ts';
import { EVENING_MS, H, projection } from '../../helpers/web-scenario-parts.ts';

const MIN = 60_000;
const thermometer = (signal: string, valueC: number | null = 22) => ({ signal, label: signal, valueC, fresh: true, everyS: 30, source: signal });
const reach = reachView(EVENING_MS);
const phones = (part: Partial<RouteView>) => ({
  reach: { ...reach, routes: reach.routes.map((one) => (one.kind === 'push' ? { ...one, ...part } : one)).slice(0, 2) },
});

/** All is well, and two thermometers see two places. */
const WELL: WatchSituation = {
  nowMs: EVENING_MS,
  units: 'metric',
  thermometers: [thermometer('cabin.temperature'), thermometer('cabin.floor'), thermometer('cabin.bed')],
  reach: { ...reach, heartbeat: { okMs: EVENING_MS - 4 * MIN, failingSinceMs: null, reason: '' } },
  heartbeatEveryMs: 5 * MIN,
  projection: projection(EVENING_MS, 95, 30, 'holds'),
  alarms: [alarmOf({ id: 'low-point', condition: true, priority: 'high' }), alarmOf({ id: 'watch-hot', priority: 'critical' })],
  broker: 'connected',
};
const ORDER = WatchOrder.parse({
  thermometers: ['cabin.temperature', 'cabin.floor'],
  warmestC: 28,
  coldestC: 15,
  untilMs: EVENING_MS + 3 * H,
  near: 'Ann, next pitch',
  understood: true,
});
const with_ = (part: Partial<WatchSituation>): WatchSituation => ({ ...WELL, ...part });

async function watchIn(store: RigStore = createMemoryStore(), nowMs = EVENING_MS): Promise<{ store: RigStore; watch: WatchMode; warned: string[] }> {
  await store.open();
  const warned: string[] = [];
  const watch = createWatchMode({ store, rigId: 'heron', kept: await loadWatch(store, 'heron'), nowMs, warn: (what) => warned.push(what) });
  return { store, watch, warned };
}
const refusal = async (situation: WatchSituation, order: Partial<WatchOrder> = {}) => {
  const { watch } = await watchIn();
  const said = await watch.arm({ ...ORDER, ...order }, 'Tablet', situation);
  expect(watch.view(situation).armed === null).toBe(said !== '');
  return said;
};

describe('the watch over somebody inside', () => {
  test('is armed when all it rests on can be trusted, with who did it, and says what the engine needs', async () => {
    const { watch } = await watchIn();
    expect(watch.facts(WELL)).toBeNull();
    expect(watch.view(WELL)).toMatchObject({ armed: null, refusals: [], notes: [] });
    expect(await watch.arm(ORDER, 'Tablet', WELL)).toBe('');
    const { understood, ...order } = ORDER;
    expect(understood).toBe(true);
    expect(WatchView.parse(watch.view(WELL)).armed).toEqual({ ...order, sinceMs: EVENING_MS, by: 'Tablet' });
    expect(watch.facts(WELL)).toEqual({
      thermometers: ['cabin.temperature', 'cabin.floor'],
      warmestC: 28,
      coldestC: 15,
      heartbeatOk: true,
      routeOk: true,
      overdue: false,
      muted: [],
    });
  });

  describe('is refused', () => {
    test.each<[string, Partial<WatchOrder>, Partial<WatchSituation>, RegExp]>([
      ['one thermometer chosen twice', { thermometers: ['cabin.floor', 'cabin.floor'] }, {}, /^Choose two different thermometers/],
      [
        'one sensor under two names',
        {},
        { thermometers: [thermometer('cabin.temperature'), { ...thermometer('cabin.floor'), source: 'cabin.temperature' }] },
        /^Choose two different thermometers/,
      ],
      [
        'what is no thermometer',
        { thermometers: ['cabin.temperature', 'cabin.bed', 'outside.temperature'] },
        {},
        /^outside.temperature is no thermometer inside/,
      ],
      [
        'one that is silent',
        {},
        { thermometers: [thermometer('cabin.temperature'), { ...thermometer('cabin.floor'), fresh: false }] },
        /^cabin.floor is silent/,
      ],
      ['one without a value', {}, { thermometers: [thermometer('cabin.temperature'), thermometer('cabin.floor', null)] }, /^cabin.floor is silent/],
      [
        'one that speaks too seldom',
        {},
        { thermometers: [thermometer('cabin.temperature'), { ...thermometer('cabin.floor'), everyS: 300 }] },
        /^cabin.floor speaks only every 5 min, and minutes count/,
      ],
      ['limits that lie too close', { warmestC: 20, coldestC: 15 }, {}, /^The limits lie too close together: leave more than 5 degrees/],
      [
        'a place that is too warm already',
        {},
        { thermometers: [thermometer('cabin.temperature', 28.1), thermometer('cabin.floor')] },
        /^cabin.temperature is at 28.1°C already/,
      ],
      [
        'a place that is too cold already',
        {},
        { thermometers: [thermometer('cabin.temperature'), thermometer('cabin.floor', 14.9)] },
        /^cabin.floor is at 14.9°C already/,
      ],
      ['an end that has passed', { untilMs: EVENING_MS }, {}, /^The time when you mean to be back has passed/],
      ['an end too far off', { untilMs: EVENING_MS + 12 * H + 1 }, {}, /^It watches 12 hours at most/],
      [
        'an end beyond what is projected',
        { untilMs: EVENING_MS + 11 * H },
        { projection: { ...projection(EVENING_MS, 95, 30, 'holds'), curve: projection(EVENING_MS, 95, 30, 'holds').curve.slice(0, 60) } },
        /^How the bank does until then is not projected/,
      ],
      [
        'no route away from the rig',
        {},
        { reach: { ...reach, routes: reach.routes.slice(0, 1), heartbeat: WELL.reach?.heartbeat ?? null } },
        /^No way to reach you away/,
      ],
      ['no heartbeat', {}, { reach }, /^No heartbeat is set up/],
      [
        'a heartbeat that fails',
        {},
        { reach: { ...reach, heartbeat: { okMs: EVENING_MS - 11 * MIN, failingSinceMs: EVENING_MS - 6 * MIN, reason: 'no answer' } } },
        /^The heartbeat does not get through \(no answer\)/,
      ],
      [
        'a heartbeat that has not been tried yet',
        {},
        { reach: { ...reach, heartbeat: { okMs: null, failingSinceMs: null, reason: '' } } },
        /^The heartbeat does not get through: /,
      ],
      ['no projection', {}, { projection: null }, /^Whether the bank holds has not been worked out lately/],
      ['an old projection', {}, { projection: projection(EVENING_MS - 31 * MIN, 95, 30, 'holds') }, /^Whether the bank holds has not been worked out lately/],
      ['a rig that is still learned', {}, { projection: projection(EVENING_MS, 95, 30, 'learning') }, /^Whether the bank holds is not known yet/],
      [
        'a projection that cannot tell',
        {},
        { projection: { ...projection(EVENING_MS, 95, 30, 'unknown'), doubts: ['the bank current is silent'] } },
        /^Whether the bank holds cannot be told: the bank current is silent/,
      ],
      [
        'a bank that may not hold',
        {},
        { projection: { ...projection(EVENING_MS, 95, 30, 'tight'), belowFloorProbability: 0.11 } },
        /^The bank may fall under its floor \(11 in 100\)/,
      ],
      [
        'a critical alarm',
        {},
        { alarms: [alarmOf({ id: 'cabin-hot', title: 'The cabin too warm', condition: true, priority: 'critical', suppression: 'shelved' })] },
        /^A critical alarm stands: The cabin too warm/,
      ],
      [
        'one whose condition cannot be told',
        {},
        { alarms: [alarmOf({ id: 'x', title: 'Dark', condition: 'unknown', priority: 'critical' })] },
        /^A critical alarm stands: Dark/,
      ],
      ['a broker that is away', {}, { broker: 'lost' }, /^The broker is not connected/],
    ])('for %s, saying what to do', async (_, order, situation, words) => {
      const said = await refusal(with_(situation), order);
      expect(said).toMatch(words);
      expect(said).toMatch(/:|Mend|Do not/);
      expect(said.split('\n')).toHaveLength(1);
    });

    test.each<[string, Partial<RouteView>, RegExp]>([
      ['tried too long ago', { provenMs: EVENING_MS - 12 * H - 1 }, /^No way to reach you away from the rig has been proven/],
      ['that fails now', { state: 'fails' }, /^No way to reach you away from the rig has been proven/],
      ['never tried', { state: 'untried', provenMs: null, receivedMs: null }, /^No way to reach you away from the rig has been proven/],
      ['that no phone has shown', { receivedMs: null }, /^No phone has said within 12 hours/],
      ['that no phone has shown lately', { receivedMs: EVENING_MS - 13 * H }, /^No phone has said within 12 hours/],
      ['without a phone', { state: 'no-target', targets: [] }, /^No way to reach you away from the rig is set up/],
    ])('for a route %s', async (_, part, words) => {
      const { reach: changed } = phones(part);
      expect(await refusal(with_({ reach: { ...changed, heartbeat: WELL.reach?.heartbeat ?? null } }))).toMatch(words);
    });

    test('for nothing that is sent at all, and tells everything at once, each short enough to be shown', async () => {
      const dark = with_({ thermometers: [], reach: null, projection: null, broker: 'lost' });
      const said = (await refusal(dark)).split('\n');
      expect(said.length).toBeGreaterThanOrEqual(7);
      const { watch } = await watchIn();
      const { refusals } = WatchView.parse(watch.view(dark));
      expect(refusals).toHaveLength(5);
      for (const one of [...said, ...refusals]) expect(one.length).toBeLessThan(300);
    });

    test('for one sensor that cannot be alone, before any is chosen', async () => {
      const { watch } = await watchIn();
      const twice = [thermometer('cabin.temperature'), { ...thermometer('cabin.floor'), source: 'cabin.temperature' }];
      expect(watch.view(with_({ thermometers: twice })).refusals).toEqual([expect.stringMatching(/^Two thermometers inside must speak now.*only one does/)]);
    });

    test('while what was armed before goes on', async () => {
      const { watch } = await watchIn();
      await watch.arm(ORDER, 'Tablet', WELL);
      expect(await watch.arm({ ...ORDER, warmestC: 30 }, 'Phone', with_({ broker: 'lost' }))).not.toBe('');
      expect(watch.view(WELL).armed).toMatchObject({ warmestC: 28, by: 'Tablet' });
    });
  });

  test('takes the limits in the units of the rig', async () => {
    const warm = with_({ units: 'us', thermometers: [thermometer('cabin.temperature', 30), thermometer('cabin.floor')] });
    expect(await refusal(warm)).toMatch(/^cabin.temperature is at 86°F already/);
    expect(await refusal(with_({ units: 'us' }), { warmestC: 20, coldestC: 15 })).toContain('leave more than 9 degrees');
  });

  test('says when heartbeat and routes fail while it is armed, and when nobody comes back', async () => {
    const { watch } = await watchIn();
    await watch.arm(ORDER, 'Tablet', WELL);
    const at = (minutes: number) => with_({ nowMs: ORDER.untilMs + minutes * MIN });
    expect(watch.facts(at(15))).toMatchObject({ overdue: false, heartbeatOk: false, routeOk: true });
    expect(watch.facts(at(16))?.overdue).toBe(true);
    expect(watch.facts(with_({ reach: null }))).toMatchObject({ heartbeatOk: false, routeOk: false });
    expect(watch.view(at(1))).toMatchObject({ armed: { by: 'Tablet' }, notes: [expect.stringMatching(/has passed\. It stays armed/)] });
  });

  test('goes on after a power cut, and says so', async () => {
    const { store, watch } = await watchIn();
    await watch.arm(ORDER, 'Tablet', WELL);
    const again = await watchIn(store, EVENING_MS + H);
    expect(again.watch.view(WELL).armed).toEqual(watch.view(WELL).armed);
    expect(again.watch.view(WELL).notes).toEqual(['The box has restarted since it was armed. The watch went on.']);
    expect(again.warned).toHaveLength(1);
    expect(await again.watch.arm(ORDER, 'Phone', WELL)).toBe('');
    expect(again.watch.view(WELL).notes).toEqual([]);
  });

  test('is ended by a person alone, and stays ended', async () => {
    const { store, watch } = await watchIn();
    expect(await watch.disarm('Tablet', EVENING_MS)).toBe('The watch is not armed.');
    await watch.arm(ORDER, 'Tablet', WELL);
    expect(await watch.disarm('Phone', EVENING_MS + H)).toBe('');
    expect(watch.facts(WELL)).toBeNull();
    expect((await watchIn(store)).watch.view(WELL)).toMatchObject({ armed: null, notes: [] });
    const { lines } = await createAlarmLog({ store, nowMs: () => EVENING_MS }).search({ fromMs: 0, toMs: EVENING_MS + 2 * H, text: '', alarm: '', limit: 10 });
    expect(lines).toEqual([
      { kind: 'deed', tMs: EVENING_MS + H, by: 'Phone', what: 'disarmed the watch over somebody inside' },
      { kind: 'deed', tMs: EVENING_MS, by: 'Tablet', what: 'armed the watch over somebody inside for 180 min, cautions read; near: Ann, next pitch' },
    ]);
  });

  test('is not armed where it would not outlive a power cut, and is disarmed all the same', async () => {
    const { store, watch, warned } = await watchIn();
    const { put } = store;
    store.put = async () => Promise.reject(new Error('disk full at /home/me'));
    const said = await watch.arm(ORDER, 'Tablet', WELL);
    expect([said, watch.facts(WELL)]).toEqual([expect.stringMatching(/^It cannot be kept/), null]);
    expect(said).not.toContain('/home');
    store.put = put;
    await watch.arm(ORDER, 'Tablet', WELL);
    store.put = async () => Promise.reject(new Error('disk full'));
    expect([await watch.disarm('Tablet', EVENING_MS), watch.facts(WELL)]).toEqual(['', null]);
    expect(warned).toHaveLength(2);
  });

  test.each(['{', '{"sinceMs":1}', '[]'])('that was kept as %j says that it cannot be read, until it is armed anew', async (body) => {
    const store = createMemoryStore();
    await store.open();
    await store.put([{ kind: 'watch', id: 'heron', tMs: 0, body }]);
    const { watch, warned } = await watchIn(store);
    expect(warned).toHaveLength(1);
    expect(watch.view(WELL)).toMatchObject({ armed: null, notes: [expect.stringMatching(/cannot be read: arm it again/)] });
    await watch.arm(ORDER, 'Tablet', WELL);
    await watch.disarm('Tablet', EVENING_MS);
    expect(watch.view(WELL).notes).toEqual([]);
  });
});
