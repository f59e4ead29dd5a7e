import { describe, expect, it } from 'vitest';
import { bedtimeText, eveningOf, proofText, reachFaults, routeText, testText } from '../../../../dashboard/web/src/format/reach.ts';
import type { RouteView } from '../../../../shared/schema/notice.ts';
import { reachView } from '../../../helpers/web-alarm-book.ts';
import { reachLost } from '../../../helpers/web-alarms.ts';
import { EVENING_MS, H } from '../../../helpers/web-scenario-parts.ts';

const at = { nowMs: EVENING_MS, zone: 'Europe/Lisbon' };
const mail: RouteView = {
  name: 'mail',
  kind: 'mail',
  remote: true,
  targets: [{ id: '', name: '' }],
  state: 'works',
  sinceMs: EVENING_MS - 9 * H,
  provenMs: EVENING_MS - H,
  receivedMs: null,
  reason: '',
};

describe('whether somebody can be called', () => {
  it('is not spoken of while all is well', () => {
    expect(reachFaults(reachView(EVENING_MS), at)).toEqual([]);
    expect(bedtimeText(reachView(EVENING_MS), at)).toBe('');
  });

  it('says since when nobody far away can be reached, and the worst first', () => {
    const faults = reachFaults({ ...reachLost(EVENING_MS), noRoute: true }, at);
    expect(faults[0]).toContain('No way is left');
    expect(faults[1]).toBe('Remote alarms have not been reachable since 17:40.');
    expect(faults[2]).toContain('heartbeat has not got through since 17:40');
  });

  it('says that no way from afar is set up at all', () => {
    const routes = reachView(EVENING_MS).routes.map((route) => (route.remote ? { ...route, state: 'no-target' as const } : route));
    expect(reachFaults({ ...reachView(EVENING_MS), routes }, at)).toEqual([
      'No phone, e-mail or web address is set up: alarms only sound where a screen is open.',
    ]);
  });
});

describe('the hour before bed', () => {
  it('begins an hour before the quiet hours and ends with them; each evening is told apart', () => {
    const when = (nowMs: number) => eveningOf('22:00', { ...at, nowMs });
    const bedMs = Date.UTC(2026, 10, 24, 22, 0);
    expect([when(bedMs - H - 1), when(bedMs - H), when(bedMs - 1), when(bedMs), when(bedMs + 30_000)]).toEqual([null, bedMs, bedMs, null, null]);
    expect(when(bedMs + 23.5 * H)).toBe(bedMs + 24 * H);
  });

  it('tells what is wrong in one sentence', () => {
    expect(bedtimeText(reachLost(EVENING_MS), at)).toBe('Before you sleep: remote alarms have not been reachable since 17:40.');
    expect(bedtimeText({ ...reachLost(EVENING_MS), noRoute: true }, at)).toContain('no way is left to call you tonight');
  });
});

describe('a route', () => {
  it('says where it stands and when it was proven', () => {
    expect(routeText(mail, at)).toBe('works since 09:06');
    expect(routeText({ ...mail, state: 'fails', reason: 'no answer' }, at)).toBe('fails since 09:06: no answer');
    expect(routeText({ ...mail, kind: 'push', state: 'no-target', targets: [] }, at)).toBe('reaches nobody: no device has subscribed');
    expect(routeText({ ...mail, kind: 'push', state: 'no-target', reason: 'nobody is there to take it', targets: [] }, at)).toBe(
      'reaches nobody: no device has subscribed',
    );
    expect(proofText(mail, at)).toBe('last taken 1 h ago, at 17:06');
    expect(proofText({ ...mail, receivedMs: EVENING_MS - H + 2000 }, at)).toContain('a device said that it showed it');
    expect(proofText({ ...mail, provenMs: null }, at)).toBe('never proven');
  });

  it('tells what came of a test, and takes nothing older for it', () => {
    expect(testText(mail, EVENING_MS - 1000, at)).toBe('Test: under way …');
    expect(testText({ ...mail, provenMs: EVENING_MS }, EVENING_MS - 1000, at)).toBe('Test: taken at 18:06.');
    expect(testText({ ...mail, provenMs: EVENING_MS, receivedMs: EVENING_MS }, EVENING_MS - 1000, at)).toBe('Test: shown on a device at 18:06.');
    expect(testText({ ...mail, state: 'fails', reason: 'refused' }, EVENING_MS - 1000, at)).toBe('Test: not delivered yet: refused');
    expect(testText({ ...mail, state: 'no-target', provenMs: null }, EVENING_MS - 1000, at)).toBe('Test: there is nobody to reach.');
  });
});
