import type { SendResult, SendTarget } from '../../shared/ports.ts';
import type { ReachView, RouteView } from '../../shared/schema/notice.ts';
import type { Route } from '../../shared/schema/routes.ts';
import type { EpochMs } from '../../shared/units.ts';

/** What is known of one route. `works`: null before anything was tried. */
interface RouteReach {
  readonly works: boolean | null;
  readonly sinceMs: EpochMs | null;
  readonly provenMs: EpochMs | null;
  readonly receivedMs: EpochMs | null;
  readonly reason: string;
  /** Targets whose last delivery failed, and whether it may be tried again. */
  readonly failing: Readonly<Record<string, 'later' | 'never'>>;
}

/** How far alarms reach, as it is kept over restarts. JSON-serialisable. */
export interface ReachState {
  readonly version: 1;
  readonly routes: Readonly<Record<string, RouteReach>>;
  readonly heartbeat: NonNullable<ReachView['heartbeat']>;
}

/** A route as it is set up now. */
export interface PresentRoute {
  readonly name: string;
  readonly kind: Route['kind'];
  readonly remote: boolean;
  readonly targets: readonly SendTarget[];
}

export const initialReach = (): ReachState => ({ version: 1, routes: {}, heartbeat: { okMs: null, failingSinceMs: null, reason: '' } });

const UNTRIED: RouteReach = { works: null, sinceMs: null, provenMs: null, receivedMs: null, reason: '', failing: {} };
const reachOf = (state: ReachState, name: string): RouteReach => (Object.hasOwn(state.routes, name) ? (state.routes[name] as RouteReach) : UNTRIED);
const withRoute = (state: ReachState, name: string, reach: RouteReach): ReachState => ({ ...state, routes: { ...state.routes, [name]: reach } });
const judged = (reach: RouteReach, works: boolean, reason: string, nowMs: EpochMs): RouteReach => ({
  ...reach,
  works,
  reason: reason.slice(0, 300),
  sinceMs: reach.works === works ? reach.sinceMs : nowMs,
});
const wordsOf = (result: SendResult): string => (result.kind === 'sent' ? result.detail : result.reason);

/**
 * After a probe. One that goes well clears a route of failed deliveries, but not while they go on failing (`isTrying`), nor of those that were
 * refused for good: a probe does not see those.
 */
export function probed(state: ReachState, { name, targets }: PresentRoute, result: SendResult, isTrying: boolean, nowMs: EpochMs): ReachState {
  const reach = reachOf(state, name);
  if (result.kind !== 'sent') return withRoute(state, name, judged(reach, false, wordsOf(result), nowMs));
  const failing = Object.fromEntries(
    Object.entries(reach.failing).filter(([id, kind]) => (isTrying || kind === 'never') && targets.some((target) => target.id === id)),
  );
  if (reach.works === false && Object.keys(failing).length > 0) return withRoute(state, name, { ...reach, failing });
  return withRoute(state, name, { ...judged(reach, true, wordsOf(result), nowMs), failing });
}

/** After a delivery. The route fails once the deliveries to all its targets do; a target that is gone says nothing of the route. */
export function delivered(state: ReachState, route: PresentRoute, targetId: string, result: SendResult, nowMs: EpochMs): ReachState {
  const reach = reachOf(state, route.name);
  const isThere = (id: string): boolean => route.targets.some((target) => target.id === id);
  const others = Object.fromEntries(Object.entries(reach.failing).filter(([id]) => id !== targetId && isThere(id)));
  if (result.kind === 'sent') return withRoute(state, route.name, { ...judged(reach, true, wordsOf(result), nowMs), failing: others, provenMs: nowMs });
  // What a device that was taken out would not take says nothing of the route.
  if (result.kind === 'gone' || !isThere(targetId)) return withRoute(state, route.name, { ...reach, failing: others });
  const failing = { ...others, [targetId]: result.kind };
  const allFail = route.targets.every(({ id }) => Object.hasOwn(failing, id));
  return withRoute(state, route.name, { ...(allFail ? judged(reach, false, wordsOf(result), nowMs) : reach), failing });
}

/** After a device itself said that it showed a notice. */
export const confirmed = (state: ReachState, name: string, nowMs: EpochMs): ReachState => {
  const reach = reachOf(state, name);
  return withRoute(state, name, { ...judged(reach, true, reach.works ? reach.reason : 'a device showed a notice', nowMs), failing: {}, receivedMs: nowMs });
};

/** After a call of the heartbeat. */
export const beaten = (state: ReachState, result: SendResult, nowMs: EpochMs): ReachState => ({
  ...state,
  heartbeat:
    result.kind === 'sent'
      ? { okMs: nowMs, failingSinceMs: null, reason: '' }
      : { ...state.heartbeat, failingSinceMs: state.heartbeat.failingSinceMs ?? nowMs, reason: wordsOf(result).slice(0, 300) },
});

/** Open screens by whether they may sound. */
export type Tablets = ReachView['tablets'];

function routeView(state: ReachState, route: PresentRoute, tablets: Tablets): RouteView {
  const { works, failing: _failing, ...reach } = reachOf(state, route.name);
  const targets = route.targets.map(({ id, name }) => ({ id, name }));
  const base = { ...reach, name: route.name, kind: route.kind, remote: route.remote, targets };
  if (route.kind === 'tablet') {
    if (tablets.sounding > 0) return { ...base, state: 'works', reason: '' };
    const isOpen = tablets.silent > 0;
    return { ...base, state: isOpen ? 'fails' : 'no-target', reason: isOpen ? 'no open screen has allowed sound' : 'no screen is open' };
  }
  if (route.targets.length === 0) return { ...base, state: 'no-target', reason: 'nobody is there to take it' };
  return { ...base, state: works === null ? 'untried' : works ? 'works' : 'fails' };
}

/** Whether alarms reach anybody, for the screens and the alarms. */
export function reachView(state: ReachState, present: readonly PresentRoute[], tablets: Tablets, hasHeartbeat: boolean): ReachView {
  const routes = present.map((route) => routeView(state, route, tablets));
  const far = routes.filter(({ remote, state: is }) => remote && is !== 'no-target');
  const isUnreachable = far.length > 0 && far.every(({ state: is }) => is === 'fails');
  return {
    routes,
    unreachableSinceMs: isUnreachable ? Math.max(...far.map(({ sinceMs }) => sinceMs ?? 0)) : null,
    noRoute: routes.every(({ state: is }) => is === 'fails' || is === 'no-target'),
    heartbeat: hasHeartbeat ? state.heartbeat : null,
    tablets,
  };
}
