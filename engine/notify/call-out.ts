import type { Alarm, Priority } from '../../shared/schema/alarm.ts';
import type { CallOut, Routes } from '../../shared/schema/routes.ts';

/** Whether an alarm calls for somebody: nobody has acknowledged it, and nothing holds it back. */
export const isLoud = ({ lifecycle, suppression }: Pick<Alarm, 'lifecycle' | 'suppression'>): boolean =>
  lifecycle === 'unacknowledged' && suppression === 'none';

/** What decides who is called first. */
export interface CallRules {
  readonly call: CallOut[Priority];
  /** The rule's own routes; null: those of its priority. */
  readonly own: readonly string[] | null;
  readonly routes: Routes;
  readonly isQuiet: boolean;
}

/**
 * The routes that are taken first at this hour; null when the priority is mute now, since its list for the night is empty. A rule's own routes
 * stand in for both lists, but a mute night stays mute. A critical alarm takes every tablet, at any hour.
 */
export function firstRoutes(priority: Priority, { call, own, routes, isQuiet }: CallRules): readonly string[] | null {
  const atNight = isQuiet ? call.atNight : undefined;
  const isMute = atNight !== undefined && atNight.length === 0;
  const named = isMute ? [] : (own ?? atNight ?? call.first);
  if (priority !== 'critical') return isMute ? null : named;
  const tablets = Object.entries(routes).flatMap(([name, { kind }]) => (kind === 'tablet' ? [name] : []));
  return [...new Set([...named, ...tablets])];
}
