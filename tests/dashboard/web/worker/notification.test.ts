import { describe, expect, it } from 'vitest';
import { isOutdatedBy, remember, replyOf, shownFor } from '../../../../dashboard/web/src/worker/notification.ts';
import type { PushBody } from '../../../../shared/push-body.ts';

const AT_MS = Date.UTC(2026, 10, 27, 4, 10);
const LATER_MS = AT_MS + 3_600_000;
let notices = 0;
const push = (more: Partial<PushBody> = {}): PushBody => ({
  noticeId: `00000000-0000-4000-8000-${String(++notices).padStart(12, '0')}`,
  eventId: 'low-point-3',
  kind: 'alarm',
  title: 'The bank tonight',
  text: 'It falls under the floor at 06:30.',
  helps: ['Setpoint up by two: lasts until 08:10.', 'Skip the cooker: lasts until 07:00.', 'Off from four to six.'],
  priority: 'high',
  issuedMs: AT_MS,
  issuedText: '04:10',
  rigName: 'Heron',
  canAcknowledge: true,
  alarmId: 'low-point',
  occurrence: 3,
  path: '/#/alarms',
  ...more,
});
const actionsOf = ({ options }: ReturnType<typeof shownFor>) => options.actions.map(({ action }) => action);

describe('what a push shows', () => {
  it('says what, what helps first, whose and of when, and stays until somebody deals with it', () => {
    const { title, options } = shownFor(push(), [], LATER_MS);
    expect(title).toBe('The bank tonight');
    expect(options.body.split('\n')).toEqual([
      'It falls under the floor at 06:30.',
      'Setpoint up by two: lasts until 08:10.',
      'Skip the cooker: lasts until 07:00.',
      'Heron, from 04:10',
    ]);
    expect(options).toMatchObject({ tag: 'low-point-3', renotify: true, silent: false, requireInteraction: true, timestamp: AT_MS });
  });

  it('is something even for what cannot be read', () => {
    const shown = shownFor(null, [push()], LATER_MS);
    expect(shown.title).toBe('Dawnhold has news');
    expect(shown.options).toMatchObject({ silent: false, data: { path: '/#/alarms', body: null } });
    expect(shown.options.tag).not.toBe('');
  });

  it.each([
    ['an alarm', {}, ['acknowledge', 'open'], false, true],
    ['a medium alarm', { priority: 'medium' }, ['acknowledge', 'open'], false, false],
    ['an alarm of low priority', { priority: 'low' }, ['acknowledge', 'open'], true, false],
    ['one that cannot be acknowledged', { canAcknowledge: false }, ['open'], false, true],
    ['one without an occurrence', { occurrence: null }, ['open'], false, true],
    ['an alarm that is over', { kind: 'returned', canAcknowledge: false }, ['open'], true, false],
    ['a test, loud like a real one', { kind: 'test', priority: 'low', alarmId: null, occurrence: null }, ['open'], false, false],
    ['the check in the evening', { kind: 'check', alarmId: null, occurrence: null }, ['open'], true, false],
    ['a briefing', { kind: 'briefing', priority: 'low', alarmId: null, occurrence: null }, ['open'], true, false],
  ] as const)('%s', (_what, more, actions, silent, requireInteraction) => {
    const shown = shownFor(push(more as Partial<PushBody>), [], AT_MS);
    expect(actionsOf(shown)).toEqual(actions);
    expect(shown.options).toMatchObject({ silent, renotify: !silent, requireInteraction });
  });
});

describe('news after news of one alarm', () => {
  it('a repeat calls again in the place of the first', () => {
    const first = push();
    const shown = shownFor(push({ issuedMs: AT_MS + 900_000, issuedText: '04:25' }), [first], LATER_MS);
    expect(shown.options).toMatchObject({ tag: first.eventId, silent: false, renotify: true });
    expect(shown.options.body).toContain('04:25');
  });

  it('one that comes twice does not sound twice', () => {
    const first = push();
    expect(shownFor(first, [first], LATER_MS).options).toMatchObject({ tag: first.eventId, silent: true, renotify: false });
  });

  it('one that comes late shows the newest and calls only while that alarm still stands', () => {
    const newest = push({ issuedMs: AT_MS + 900_000, text: 'It falls under the floor at 05:50.' });
    const late = shownFor(push(), [newest], LATER_MS);
    expect(late.options.body).toContain('05:50');
    expect(late.options.silent).toBe(false);
    const ended = push({ kind: 'returned', issuedMs: AT_MS + 900_000, text: 'It holds again.' });
    expect(shownFor(push(), [ended], LATER_MS).options).toMatchObject({
      silent: true,
      requireInteraction: false,
      body: expect.stringContaining('holds again'),
    });
  });

  it('an earlier occurrence that comes late neither calls nor takes the place of the later one', () => {
    const worse = push({ occurrence: 4, eventId: 'low-point-4', issuedMs: AT_MS + 900_000 });
    expect(shownFor(push(), [worse], LATER_MS).options).toMatchObject({ tag: 'low-point-4', silent: true });
  });

  it('calls again after the rig began to count anew, or its clock was wrong', () => {
    const before = push({ occurrence: 9, eventId: 'low-point-9' });
    expect(shownFor(push({ occurrence: 1, eventId: 'low-point-1', issuedMs: AT_MS + 60_000 }), [before], LATER_MS).options).toMatchObject({
      tag: 'low-point-1',
      silent: false,
    });
    const fast = push({ issuedMs: LATER_MS + 900_000 });
    expect(shownFor(push({ issuedMs: LATER_MS + 600_000 }), [fast], LATER_MS).options.body).toBe(shownFor(fast, [], LATER_MS).options.body);
    const ahead = push({ issuedMs: AT_MS + 7 * 3_600_000, kind: 'returned' });
    expect(shownFor(push(), [ahead], AT_MS + 5000).options).toMatchObject({ silent: false, requireInteraction: true });
  });

  it('closes what a later occurrence makes untrue, and nothing else', () => {
    const worse = shownFor(push({ occurrence: 4, eventId: 'low-point-4' }), [], AT_MS);
    expect(isOutdatedBy(worse, 'low-point-3', { path: '/', body: push() })).toBe(true);
    expect(isOutdatedBy(worse, 'low-point-4', { path: '/', body: push() })).toBe(false);
    expect(isOutdatedBy(worse, 'cabin-hot-1', { path: '/', body: push({ alarmId: 'cabin-hot', eventId: 'cabin-hot-1' }) })).toBe(false);
    expect(isOutdatedBy(worse, 'unreadable', { path: '/', body: null })).toBe(false);
  });

  it('remembers the newest of each alarm, of forty at most', () => {
    const many = Array.from({ length: 60 }, (_, i) => push({ alarmId: `alarm-${i}`, eventId: `alarm-${i}-1` }));
    const kept = many.reduce<readonly PushBody[]>(remember, []);
    expect(kept.map(({ alarmId }) => alarmId)).toEqual(many.slice(20).map(({ alarmId }) => alarmId));
    const newer = push({ alarmId: 'alarm-59', eventId: 'alarm-59-2' });
    expect(remember(kept, newer).filter(({ alarmId }) => alarmId === 'alarm-59')).toEqual([newer]);
  });
});

describe('the answer to Acknowledge', () => {
  it('stands in the place of the alarm, and offers to try again where it failed', () => {
    const body = push();
    const done = replyOf(body, { kind: 'done' });
    expect([done.title, done.options.tag, done.options.requireInteraction, actionsOf(done)]).toEqual([
      'Acknowledged at the rig',
      body.eventId,
      false,
      ['open'],
    ]);
    const away = replyOf(body, { kind: 'unreachable' });
    expect(away.title).toBe('The rig cannot be reached from here');
    expect(away.options.body).toContain("Not acknowledged: the alarm goes on calling. Open Dawnhold on the rig's network.");
    expect([away.options.requireInteraction, actionsOf(away)]).toEqual([true, ['acknowledge', 'open']]);
    expect(replyOf(body, { kind: 'refused', reason: 'It got worse since.' }).options.body).toContain('It got worse since.');
  });
});
