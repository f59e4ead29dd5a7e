import type { SoundPermission } from '../../../../shared/live-version.ts';
import type { ReachView, RouteView } from '../../../../shared/schema/notice.ts';
import { spanText } from './age.ts';
import { type AlarmSetting, momentText } from './alarm-words.ts';
import { nextClockTime } from './zone.ts';

export const KIND_WORDS: Readonly<Record<RouteView['kind'], string>> = {
  push: 'Phones that have subscribed',
  mail: 'E-mail',
  webhook: 'A web address of yours',
  mqtt: 'An MQTT topic',
  tablet: 'Sound of open screens',
};

/** What stands in the way of being called, the worst first; empty when nothing does. */
export function reachFaults({ noRoute, unreachableSinceMs, routes, heartbeat }: ReachView, at: AlarmSetting): string[] {
  const isRemoteSetUp = routes.some(({ remote, state }) => remote && state !== 'no-target');
  return [
    ...(noRoute ? ['No way is left to call anybody: no route works, and no open screen may sound.'] : []),
    ...(unreachableSinceMs === null ? [] : [`Remote alarms have not been reachable since ${momentText(unreachableSinceMs, at)}.`]),
    ...(isRemoteSetUp ? [] : ['No phone, e-mail or web address is set up: alarms only sound where a screen is open.']),
    ...(heartbeat?.failingSinceMs == null
      ? []
      : [`The heartbeat has not got through since ${momentText(heartbeat.failingSinceMs, at)}: nobody far away notices when the rig falls silent.`]),
  ];
}

/** What this device's own sound lacks; '' when it may sound. */
export const soundFault = (permission: SoundPermission): string =>
  permission === 'blocked'
    ? 'Silent here: this browser allows sound only after a touch on the page.'
    : permission === 'unsupported'
      ? 'This browser has no sound. Rely on another device.'
      : '';

/** What is told before bed when nobody can be called from afar; '' when somebody can. */
export function bedtimeText({ noRoute, unreachableSinceMs }: ReachView, at: AlarmSetting): string {
  if (noRoute) return 'Before you sleep: no way is left to call you tonight. No route works, and no open screen may sound.';
  if (unreachableSinceMs === null) return '';
  return `Before you sleep: remote alarms have not been reachable since ${momentText(unreachableSinceMs, at)}.`;
}

const BEFORE_BED_MS = 3_600_000;

/** The beginning of the quiet hours `quietFrom` ("22:00") that the hour before bed leads to, which tells one evening from another; null outside that hour. */
export function eveningOf(quietFrom: string, { nowMs, zone }: AlarmSetting): number | null {
  const bedMs = nextClockTime(quietFrom, nowMs, zone);
  // A minute that has just begun counts as the next time: the quiet hours are there.
  return bedMs !== null && bedMs > nowMs && bedMs - nowMs <= BEFORE_BED_MS ? bedMs : null;
}

const STATE_WORDS: Readonly<Record<RouteView['state'], string>> = { works: 'works', fails: 'fails', untried: 'not tried yet', 'no-target': 'reaches nobody' };

/** Where a route stands, in words: "works since 12:06", "fails since 21:40: no answer". */
export function routeText({ kind, state, sinceMs, reason }: RouteView, at: AlarmSetting): string {
  const since = sinceMs === null || state === 'no-target' || state === 'untried' ? '' : ` since ${momentText(sinceMs, at)}`;
  const said = state === 'no-target' && kind === 'push' ? 'no device has subscribed' : reason;
  const why = said !== '' && state !== 'works' ? `: ${said}` : '';
  return `${STATE_WORDS[state]}${since}${why}`;
}

/** When a route was last proven, in words. */
export function proofText({ provenMs, receivedMs }: RouteView, at: AlarmSetting): string {
  if (provenMs === null) return 'never proven';
  const shown = receivedMs !== null && receivedMs >= provenMs - 60_000 ? ', and a device said that it showed it' : '';
  return `last taken ${spanText(at.nowMs - provenMs)} ago, at ${momentText(provenMs, at)}${shown}`;
}

/** What has come of a test that was asked for at `askedMs`. */
export function testText(route: RouteView, askedMs: number, at: AlarmSetting): string {
  if (route.receivedMs !== null && route.receivedMs >= askedMs) return `Test: shown on a device at ${momentText(route.receivedMs, at)}.`;
  if (route.provenMs !== null && route.provenMs >= askedMs) return `Test: taken at ${momentText(route.provenMs, at)}.`;
  if (route.state === 'no-target') return 'Test: there is nobody to reach.';
  if (route.state === 'fails' && route.reason !== '') return `Test: not delivered yet: ${route.reason}`;
  return 'Test: under way …';
}
