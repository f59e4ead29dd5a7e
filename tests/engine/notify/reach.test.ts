import { describe, expect, it } from 'vitest';
import { beaten, confirmed, delivered, initialReach, type PresentRoute, probed, type ReachState, reachView } from '../../../engine/notify/reach.ts';
import { bedtimeWords } from '../../../engine/notify/reach-words.ts';
import type { SendResult } from '../../../shared/ports.ts';

const T = Date.UTC(2026, 10, 27, 21, 40);
const MIN = 60_000;
const H = 60 * MIN;
const SENT: SendResult = { kind: 'sent', detail: 'taken' };
const LATER: SendResult = { kind: 'later', reason: 'no network' };
const NEVER: SendResult = { kind: 'never', reason: 'refused' };
const PHONES: PresentRoute = { name: 'phones', kind: 'push', remote: true, targets: ['a', 'b'].map((id) => ({ id, name: id })) };
const POST: PresentRoute = { name: 'post', kind: 'mail', remote: true, targets: [{ id: '', name: 'post' }] };
const TABLET: PresentRoute = { name: 'tablet', kind: 'tablet', remote: false, targets: [{ id: '', name: 'tablet' }] };
const LAMP: PresentRoute = { name: 'lamp', kind: 'mqtt', remote: false, targets: [{ id: '', name: 'lamp' }] };
const SOUNDING = { sounding: 1, silent: 0 };
const NONE = { sounding: 0, silent: 0 };

const view = (state: ReachState, present = [TABLET, PHONES, POST], tablets = SOUNDING) => reachView(state, present, tablets, false);
const routeOf = (state: ReachState, name: string) => view(state).routes.find((route) => route.name === name);

describe('what is known of a route', () => {
  it('is untried, works or fails, since when, and why', () => {
    let state = initialReach();
    expect(routeOf(state, 'post')).toMatchObject({ state: 'untried', sinceMs: null, provenMs: null });
    state = probed(state, POST, SENT, false, T);
    expect(routeOf(state, 'post')).toMatchObject({ state: 'works', sinceMs: T, provenMs: null });
    state = delivered(state, POST, '', SENT, T + MIN);
    expect(routeOf(state, 'post')).toMatchObject({ state: 'works', sinceMs: T, provenMs: T + MIN });
    state = probed(state, POST, LATER, false, T + 2 * MIN);
    state = probed(state, POST, LATER, false, T + 17 * MIN);
    expect(routeOf(state, 'post')).toMatchObject({ state: 'fails', sinceMs: T + 2 * MIN, provenMs: T + MIN, reason: 'no network' });
  });

  it('fails only when deliveries to all its devices do; a device that is gone says nothing of it', () => {
    let state = delivered(initialReach(), PHONES, 'a', SENT, T);
    state = delivered(state, PHONES, 'b', LATER, T + MIN);
    expect(routeOf(state, 'phones')?.state).toBe('works');
    state = delivered(state, PHONES, 'a', LATER, T + 2 * MIN);
    expect(routeOf(state, 'phones')).toMatchObject({ state: 'fails', sinceMs: T + 2 * MIN });
    state = delivered(state, PHONES, 'a', SENT, T + 3 * MIN);
    expect(routeOf(state, 'phones')).toMatchObject({ state: 'works', sinceMs: T + 3 * MIN });
    expect(routeOf(delivered(state, PHONES, 'b', { kind: 'gone', reason: '' }, T + 4 * MIN), 'phones')?.state).toBe('works');
  });

  it('is not made good by a probe while deliveries go on failing, nor after one was refused for good', () => {
    const trying = delivered(initialReach(), POST, '', LATER, T);
    expect(routeOf(probed(trying, POST, SENT, true, T + MIN), 'post')?.state).toBe('fails');
    expect(routeOf(probed(trying, POST, SENT, false, T + MIN), 'post')?.state).toBe('works');
    const refused = delivered(initialReach(), POST, '', NEVER, T);
    expect(routeOf(probed(refused, POST, SENT, false, T + MIN), 'post')).toMatchObject({ state: 'fails', sinceMs: T });
    expect(routeOf(delivered(refused, POST, '', SENT, T + MIN), 'post')?.state).toBe('works');
  });

  it('is not held against a route any more when the device that refused was taken out', () => {
    const only = (id: string): PresentRoute => ({ ...PHONES, targets: [{ id, name: id }] });
    const refused = delivered(initialReach(), only('a'), 'a', NEVER, T);
    expect(routeOf(refused, 'phones')?.state).toBe('fails');
    expect(routeOf(probed(refused, only('c'), SENT, false, T + MIN), 'phones')?.state).toBe('works');
    expect(routeOf(delivered(initialReach(), only('c'), 'a', NEVER, T), 'phones')?.state).toBe('untried');
  });

  it('has its proof by a device', () => {
    const state = confirmed(delivered(initialReach(), PHONES, 'a', LATER, T), 'phones', T + MIN);
    expect(routeOf(state, 'phones')).toMatchObject({ state: 'works', receivedMs: T + MIN });
  });

  it('survives as JSON', () => {
    const state = beaten(probed(initialReach(), POST, LATER, false, T), LATER, T);
    expect(view(JSON.parse(JSON.stringify(state)))).toEqual(view(state));
  });
});

describe('the reach of all', () => {
  const bothFail = probed(probed(initialReach(), PHONES, LATER, false, T - H), POST, LATER, false, T);

  it('is lost since the last route beyond the rig failed, and back with the first that works', () => {
    expect(view(bothFail).unreachableSinceMs).toBe(T);
    expect(view(probed(bothFail, PHONES, SENT, false, T + MIN)).unreachableSinceMs).toBeNull();
    expect(view(probed(initialReach(), POST, LATER, false, T)).unreachableSinceMs).toBeNull();
    expect(view(bothFail, [TABLET]).unreachableSinceMs).toBeNull();
  });

  it('a route with nobody at its end counts for nothing', () => {
    const empty = { ...PHONES, targets: [] };
    expect(view(probed(initialReach(), POST, LATER, false, T), [TABLET, empty, POST]).unreachableSinceMs).toBe(T);
    expect(view(initialReach(), [empty]).routes[0]?.state).toBe('no-target');
  });

  it('has no route left only when not even a screen may sound', () => {
    expect(view(bothFail).noRoute).toBe(false);
    expect(view(bothFail, undefined, { sounding: 0, silent: 2 }).noRoute).toBe(true);
    expect(view(bothFail, [LAMP, PHONES, POST], NONE).noRoute).toBe(false);
    expect(view(initialReach(), undefined, NONE).noRoute).toBe(false);
    expect(view(initialReach(), [], NONE).noRoute).toBe(true);
  });

  it('counts a tablet by what its screens say of sound', () => {
    const tablet = (tablets: typeof NONE) => view(initialReach(), [TABLET], tablets).routes[0]?.state;
    expect([SOUNDING, { sounding: 0, silent: 1 }, NONE].map(tablet)).toEqual(['works', 'fails', 'no-target']);
  });

  it('keeps since when the heartbeat fails', () => {
    let state = beaten(initialReach(), SENT, T);
    state = beaten(state, LATER, T + MIN);
    state = beaten(state, LATER, T + 6 * MIN);
    expect(reachView(state, [], NONE, true).heartbeat).toEqual({ okMs: T, failingSinceMs: T + MIN, reason: 'no network' });
    expect(reachView(beaten(state, SENT, T + 11 * MIN), [], NONE, true).heartbeat).toEqual({ okMs: T + 11 * MIN, failingSinceMs: null, reason: '' });
    expect(reachView(state, [], NONE, false).heartbeat).toBeNull();
  });
});

describe('what is said of it before bed', () => {
  const words = (state: ReachState, present = [TABLET, PHONES, POST], tablets = SOUNDING, nowMs = T + 2 * H) =>
    bedtimeWords(reachView(state, present, tablets, true), nowMs, 'Etc/UTC');
  const good = confirmed(probed(initialReach(), POST, SENT, false, T), 'phones', T);

  it('is nothing when all is well', () => {
    expect(words(good)).toBe('');
  });

  it('C14: is since when nothing gets out', () => {
    const lost = probed(probed(initialReach(), PHONES, LATER, false, T), POST, LATER, false, T);
    expect(words(lost)).toBe('Remote alarms have not been reachable since 21:40.');
    expect(words(lost, undefined, undefined, T + 30 * H)).toBe('Remote alarms have not been reachable since Friday 21:40.');
  });

  it('is that nobody beyond the rig is told, that one route fails, or that no phone has confirmed anything', () => {
    expect(words(good, [TABLET])).toContain('nobody beyond this rig');
    expect(words(probed(good, POST, LATER, false, T))).toBe('The route post has failed since 21:40.');
    expect(words(good, undefined, undefined, T + 13 * H)).toBe('No device of the route phones has confirmed a message within twelve hours.');
  });

  it('is that no screen may sound, and that the heartbeat fails', () => {
    expect(words(good, undefined, { sounding: 0, silent: 1 })).toBe('No open screen has allowed sound: touch one, and allow it.');
    expect(words(good, undefined, NONE)).toBe('No screen is open here that could sound.');
    expect(words(good, [PHONES, POST], NONE)).toBe('');
    expect(words(beaten(good, LATER, T))).toBe('The heartbeat has not got through since 21:40.');
  });
});
