import type { Alarm } from '../../shared/schema/alarm.ts';
import type { ReachView } from '../../shared/schema/notice.ts';
import type { WatchView } from '../../shared/schema/watch-mode.ts';
import { alarmOf } from './web-alarm.ts';
import { alarmBook, reachView, watchView } from './web-alarm-book.ts';
import { evening, type WebScenario } from './web-scenario.ts';
import { EVENING_MS, H } from './web-scenario-parts.ts';

/** Alarms in every state that the screens must tell. */
export function alarmsOfAllKinds(nowMs: number): Alarm[] {
  const up = { condition: true, lifecycle: 'unacknowledged', occurrence: 3 } as const;
  return [
    alarmOf({
      id: 'low-point',
      title: 'The bank tonight',
      ...up,
      priority: 'high',
      sinceMs: nowMs - 240_000,
      text: 'The bank is likely to fall under the floor of 35 % at about 05:32; lowest 22 % at 08:35.',
      helps: ['Set 26°C: 9 points more, holds 96 nights in 100.', 'Leave out the cooker at 19:30: 7 points more, holds 81 nights in 100.'],
    }),
    alarmOf({
      id: 'sensor-silent',
      title: 'Sensors that fell silent',
      ...up,
      sinceMs: nowMs - 900_000,
      raisesLastHour: 4,
      chattering: true,
      text: 'Outside temperature has sent nothing for 11 min.',
    }),
    alarmOf({
      id: 'not-anchored',
      title: 'No full charge for long',
      condition: true,
      lifecycle: 'acknowledged',
      priority: 'low',
      occurrence: 1,
      sinceMs: nowMs - 50 * H,
      acknowledgedBy: 'Tablet',
      text: 'The bank has not been full for 6 days; its state of charge is getting less sure.',
    }),
    alarmOf({ id: 'cabin-hot', title: 'The cabin too warm', lifecycle: 'returned', occurrence: 2, sinceMs: nowMs - 2 * H, text: 'The cabin was at 30.4°C.' }),
    alarmOf({
      id: 'panels-weak',
      title: 'Panels weaker than they should be',
      condition: true,
      lifecycle: 'acknowledged',
      suppression: 'shelved',
      shelvedUntilMs: nowMs + 3 * H,
    }),
    alarmOf({ id: 'charge-blocked', title: 'Sun, and the bank takes nothing', suppression: 'by-design', heldBackBy: 'broker-lost' }),
    alarmOf({ id: 'unaccounted-load', title: 'A load that nobody names', suppression: 'out-of-service' }),
    alarmOf({ id: 'cell-low', title: 'The weakest cell', notWatched: 'bank.cellVoltageMin is not mapped' }),
    alarmOf({ id: 'clock-unsure', title: 'The clock of the box', raisesLastHour: 3, chattering: true }),
    alarmOf({ id: 'broker-lost', title: 'Contact with the broker' }),
    alarmOf({ id: 'store-failing', title: 'What is kept on disk' }),
  ];
}

/** No remote route has worked since 21:40 of the evening before; the mail server does not answer. */
export function reachLost(nowMs: number): ReachView {
  const lostMs = Date.UTC(2026, 10, 24, 17, 40);
  const reach = reachView(nowMs);
  return {
    ...reach,
    unreachableSinceMs: lostMs,
    routes: reach.routes.map((route) => (route.remote ? { ...route, state: 'fails', sinceMs: lostMs, reason: 'no way to the internet' } : route)),
    heartbeat: { okMs: lostMs - 60_000, failingSinceMs: lostMs, reason: 'no way to the internet' },
    tablets: { sounding: 1, silent: 1 },
  };
}

/** The watch with nothing against it. */
export const watchReady = (): WatchView => ({ ...watchView(), refusals: [] });

export const watchArmed = (nowMs: number): WatchView => ({
  ...watchReady(),
  armed: {
    thermometers: ['cabin.temperature', 'outside.temperature'],
    warmestC: 27,
    coldestC: 12,
    untilMs: nowMs + 2 * H,
    near: 'Ana in the next rig, +351 900 000 000',
    sinceMs: nowMs - 1_800_000,
    by: 'Tablet',
  },
});

/** The evening with alarms of all kinds, and no way to call anybody from afar. */
export function troubled(nowMs = EVENING_MS): WebScenario {
  const base = evening(nowMs);
  const alarms = alarmsOfAllKinds(nowMs);
  const titles = new Map(alarms.map(({ id, title }) => [id, title]));
  const book = alarmBook();
  return {
    ...base,
    snapshot: { ...base.snapshot, alarms, reach: reachLost(nowMs) },
    book: { ...book, rules: book.rules.map((rule) => ({ ...rule, title: titles.get(rule.id) ?? rule.title })) },
  };
}
