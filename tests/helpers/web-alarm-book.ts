import type { AlarmBook, AlarmFigures, AlarmLog, RuleView } from '../../shared/schema/alarm-book.ts';
import type { ReachView, RouteView } from '../../shared/schema/notice.ts';
import { Briefings, CallOut, Routes } from '../../shared/schema/routes.ts';
import type { WatchView } from '../../shared/schema/watch-mode.ts';

const H = 3_600_000;

const rule = (part: Partial<RuleView> & Pick<RuleView, 'id' | 'title' | 'levels'>): RuleView => ({
  builtIn: true,
  adjusted: false,
  onDelayS: 300,
  offDelayS: 600,
  message: '',
  says: '',
  routes: null,
  because: [],
  unknown: 'raise',
  outOfService: false,
  notWatched: '',
  ...part,
});

/** What is set up: built-in alarms, one of them adjusted, one that cannot be watched, and one of the person's own. */
export function alarmBook(): AlarmBook {
  return {
    hash: 'a1',
    whyFixed: '',
    rules: [
      rule({
        id: 'low-point',
        title: 'The bank tonight',
        levels: [
          { priority: 'medium', when: { watch: 'night.belowFloorProbability', above: 0.2 }, words: 'chance of falling under the floor tonight over 20 in 100' },
          { priority: 'high', when: { watch: 'night.belowFloorProbability', above: 0.5 }, words: 'chance of falling under the floor tonight over 50 in 100' },
        ],
      }),
      rule({
        id: 'cabin-hot',
        title: 'The cabin too warm',
        adjusted: true,
        levels: [{ priority: 'high', when: { watch: 'cabin.temperature', above: '30 degC' }, words: 'cabin temperature over 30 °C' }],
        because: ['sensor-silent'],
      }),
      rule({
        id: 'cell-low',
        title: 'The weakest cell',
        levels: [{ priority: 'high', when: { watch: 'bank.cellVoltageMin', below: 2.9 }, words: 'lowest cell under 2.90 V' }],
        notWatched: 'bank.cellVoltageMin is not mapped',
      }),
      rule({
        id: 'fridge-warm',
        title: 'The fridge draws too long',
        builtIn: false,
        levels: [{ priority: 'low', when: { watch: 'load.fridge.power', above: 40 }, words: 'fridge over 40 W' }],
        onDelayS: 5400,
        message: 'The fridge has drawn {load.fridge.power} for long.',
        says: 'The fridge has drawn ‹fridge power› for long.',
        unknown: 'ignore',
      }),
    ],
    watchables: [
      { name: 'cabin.temperature', label: 'Cabin temperature', unit: 'Cel', kind: 'signal', now: 24.4 },
      { name: 'load.fridge.power', label: 'fridge', unit: 'W', kind: 'signal', now: 46 },
      { name: 'bank.socPct', label: 'State of charge', unit: '%EL', kind: 'derived', now: 95.8 },
      { name: 'night.belowFloorProbability', label: 'Chance of falling under the floor tonight', unit: 'chance', kind: 'projected', now: 0.02 },
    ],
    routes: Routes.parse({
      tablet: { kind: 'tablet' },
      phones: { kind: 'push' },
      mail: { kind: 'mail', server: 'mail.example', from: 'rig@mail.example', to: ['me@mail.example'] },
    }),
    callOut: CallOut.parse({}),
    briefings: Briefings.parse({}),
    heartbeat: null,
    pushKey: 'B'.repeat(87),
  };
}

/** A raise, what was sent, its acknowledgement, and a deed; newest first. */
export function alarmLog(nowMs: number): AlarmLog {
  const change = { kind: 'change', id: 'low-point', condition: true, suppression: 'none', priority: 'medium', occurrence: 3 } as const;
  return {
    lines: [
      { kind: 'deed', tMs: nowMs - H, by: 'Tablet', what: 'tried every route' },
      { ...change, tMs: nowMs - 2 * H, lifecycle: 'acknowledged', text: 'The bank may not hold.', deed: 'acknowledged', by: 'Tablet' },
      {
        kind: 'delivery',
        tMs: nowMs - 3 * H,
        alarmId: 'low-point',
        route: 'phones',
        targetName: 'Phone',
        what: 'The bank tonight',
        state: 'delivered',
        attempts: 1,
        reason: '',
      },
      { ...change, tMs: nowMs - 3 * H, lifecycle: 'unacknowledged', text: 'The bank may not hold.', deed: 'raised', by: '' },
    ],
    more: false,
  };
}

export function alarmFigures(nowMs: number): AlarmFigures {
  return {
    days: 30,
    alarmsPerDay: 1.4,
    mostInAnHour: 4,
    chattering: [{ id: 'sensor-silent', raisesInAnHour: 4 }],
    stale: [{ id: 'panels-weak', sinceMs: nowMs - 50 * H }],
    acknowledgeMedianS: 240,
    acknowledgeP90S: 3100,
    neverAcknowledged: 2,
    byPriority: [
      { priority: 'low', share: 0.7 },
      { priority: 'medium', share: 0.2 },
      { priority: 'high', share: 0.1 },
      { priority: 'critical', share: 0 },
    ],
    busiest: [
      { id: 'sensor-silent', raises: 17 },
      { id: 'low-point', raises: 9 },
    ],
  };
}

const route = (part: Partial<RouteView> & Pick<RouteView, 'name' | 'kind'>): RouteView => ({
  remote: true,
  targets: [{ id: '', name: '' }],
  state: 'works',
  sinceMs: null,
  provenMs: null,
  receivedMs: null,
  reason: '',
  ...part,
});

/** Every route works; a phone has shown this evening's check. */
export function reachView(nowMs: number): ReachView {
  return {
    routes: [
      route({ name: 'tablet', kind: 'tablet', remote: false }),
      route({ name: 'phones', kind: 'push', targets: [{ id: 'p1', name: 'Phone' }], sinceMs: nowMs - 30 * H, provenMs: nowMs - H, receivedMs: nowMs - H }),
      route({ name: 'mail', kind: 'mail', sinceMs: nowMs - 9 * H, provenMs: nowMs - H }),
    ],
    unreachableSinceMs: null,
    noRoute: false,
    heartbeat: null,
    tablets: { sounding: 1, silent: 0 },
  };
}

/** Not armed, with what stands against it. */
export function watchView(): WatchView {
  return {
    armed: null,
    thermometers: [
      { signal: 'cabin.temperature', label: 'Cabin temperature', valueC: 24.4, fresh: true },
      { signal: 'outside.temperature', label: 'Outside temperature', valueC: 17.9, fresh: true },
    ],
    refusals: ['no heartbeat is set up: name an address of yours under heartbeat in the rig file, so that somebody far away notices when the rig falls silent'],
  };
}
