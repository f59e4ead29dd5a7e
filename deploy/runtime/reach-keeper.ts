import { beaten, type PresentRoute, probed, type ReachState, reachView, type Tablets } from '../../engine/notify/reach.ts';
import type { Sender, SendResult } from '../../shared/ports.ts';
import type { ReachView } from '../../shared/schema/notice.ts';
import type { Heartbeat } from '../../shared/schema/routes.ts';
import { attempt } from './attempt.ts';
import type { RigClock } from './clock.ts';
import { type Document, documentOf, NOTIFY_KIND } from './notified.ts';

/** What a screen's browser says of sound. */
export type Permission = 'allowed' | 'blocked' | 'unsupported';
export type Beat = (signal: AbortSignal) => Promise<SendResult>;

const PROBE_EVERY_MS = 15 * 60_000;
const NOT_WATCHED: Beat = async () => ({ kind: 'later', reason: 'the alarms are not being looked at here, so none is sent' });

/** Finds out how far alarms reach, and remembers since when. */
export interface ReachKeeper {
  view(): ReachView;
  change(how: (state: ReachState) => ReachState): void;
  tabletIs(clientId: string, permission: Permission | null): void;
  /** Probes and calls what is due. */
  tick(): void;
  idle(): Promise<void>;
}

export interface ReachKeeperOptions {
  readonly clock: RigClock;
  senders(): ReadonlyMap<string, Sender>;
  present(): readonly PresentRoute[];
  /** Whether deliveries by a route fail and are still being tried. */
  isTrying(route: string): boolean;
  heartbeat(): Heartbeat | null;
  beat(): Beat | null;
  /** Whether the alarms are looked at. While they are not, the heartbeat is silent. */
  isWatched(): boolean;
  readonly past: ReachState;
  readonly closing: AbortSignal;
  keep(documents: readonly Document[]): void;
  onChange(): void;
}

export function createReachKeeper(options: ReachKeeperOptions): ReachKeeper {
  const { clock, closing } = options;
  let state = options.past;
  const tablets = new Map<string, Permission>();
  const underWay = new Map<string, Promise<void>>();
  const triedMonoMs = new Map<string, number>();
  let said = '';

  const sounding = (): Tablets => {
    const allowed = [...tablets.values()].filter((permission) => permission === 'allowed').length;
    return { sounding: allowed, silent: tablets.size - allowed };
  };
  const view = (): ReachView => reachView(state, options.present(), sounding(), options.heartbeat() !== null);

  function tell(): void {
    const says = JSON.stringify(view());
    if (says === said) return;
    said = says;
    options.onChange();
  }

  function change(how: (state: ReachState) => ReachState): void {
    state = how(state);
    options.keep([documentOf(NOTIFY_KIND, 'reach', clock.now().wallMs, state)]);
    tell();
  }

  /** Begins something that is due, unless it is under way still. */
  function every(name: string, spanMs: number, run: (signal: AbortSignal) => Promise<SendResult>, then: (result: SendResult) => void): void {
    const { monoMs } = clock.now();
    if (underWay.has(name) || monoMs - (triedMonoMs.get(name) ?? Number.NEGATIVE_INFINITY) < spanMs) return;
    triedMonoMs.set(name, monoMs);
    const done = attempt(run, closing).then((result) => {
      underWay.delete(name);
      if (!closing.aborted) then(result);
    });
    underWay.set(name, done);
  }

  return {
    view,
    change,
    tabletIs(clientId, permission) {
      if (permission === null) tablets.delete(clientId);
      else tablets.set(clientId, permission);
      tell();
    },
    tick() {
      for (const [name, sender] of options.senders()) {
        if (sender.kind === 'tablet' || sender.targets().length === 0) continue;
        const then = (result: SendResult) => {
          const route = options.present().find((one) => one.name === name);
          if (route) change((now) => probed(now, route, result, options.isTrying(name), clock.now().wallMs));
        };
        every(`probe ${name}`, PROBE_EVERY_MS, (signal) => sender.probe(signal), then);
      }
      const beat = options.isWatched() ? options.beat() : options.beat() && NOT_WATCHED;
      const heartbeat = options.heartbeat();
      if (beat && heartbeat) every('heartbeat', 1000 * heartbeat.every, beat, (result) => change((now) => beaten(now, result, clock.now().wallMs)));
      tell();
    },
    async idle() {
      await Promise.all(underWay.values());
    },
  };
}
