import { LIVE_PARTS, type LivePart, type RigPort, type WhatChanged } from '../../dashboard/server/ports.ts';
import { flowsOf } from '../../engine/flows.ts';
import type { Observation } from '../../engine/types.ts';
import { LIVE_VERSION } from '../../shared/live-version.ts';
import type { HealthView, HeldView, LiveSnapshot, RigView, SignalState } from '../../shared/schema/live.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { AlarmDesk } from './alarm-desk.ts';
import type { Announced } from './announced.ts';
import type { RigClock } from './clock.ts';
import type { Core } from './core.ts';
import type { Foretaste } from './foretaste.ts';
import type { RunFacts, Status } from './status.ts';
import { sunView } from './sun-view.ts';

/** The part of the server's port that answers from memory. */
export type LiveView = Pick<RigPort, 'nowMs' | 'snapshot' | 'part' | 'state' | 'subscribe' | 'sensors'> & {
  /** Tells all listeners. */
  changed(what: WhatChanged): void;
};

export interface LiveViewOptions {
  readonly core: Core;
  readonly foretaste: Pick<Foretaste, 'instead'>;
  /** Null where no load can be announced. */
  readonly announced: Announced | null;
  /** Null where nobody is told of alarms. */
  readonly desk: AlarmDesk | null;
  readonly clock: RigClock;
  readonly status: Status;
  readonly facts: RunFacts;
  /** What waits for the time. */
  held(): HeldView | null;
  file(): RigFile;
  observation(): Observation | null;
}

/** What the screens show, taken from where it is known at the moment it is asked for. */
export function createLiveView({ core, foretaste, announced, desk, clock, status, facts, held, file, observation }: LiveViewOptions): LiveView {
  const listeners = new Set<(what: WhatChanged) => void>();
  const nowMs = (): EpochMs => clock.now().wallMs;
  const place = () => core.loop.engine().place;

  const parts: { readonly [P in LivePart]: () => LiveSnapshot[P] } = {
    rig: () => rigView(file(), core.models.current().timeZone, place() !== null, facts, status),
    flows() {
      const latest = new Map([...core.pipeline.latest(nowMs())].map(([name, value]) => [name, { ...value, fresh: value.freshness === 'fresh' }]));
      return flowsOf(latest, core.loop.engine(), core.models.current(), nowMs());
    },
    bank: () => observation()?.bank ?? null,
    projection: () => foretaste.instead(core.loop.engine().projection),
    alarms: () => [...(desk?.views() ?? core.alarms())],
    sun: () => sunView(place(), nowMs()),
    health: () => ({ ...healthView(core, clock, status), held: held() }),
    plan: () => announced?.loads(nowMs()),
    reach: () => desk?.reach(),
    watch: () => desk?.watch(),
  };

  return {
    nowMs,
    state: (index) => core.pipeline.states(nowMs())[index] ?? null,
    part: (name) => parts[name](),
    sensors: () => core.pipeline.report(nowMs()),
    snapshot() {
      const now = nowMs();
      const values = Object.fromEntries(LIVE_PARTS.map((name) => [name, parts[name]()])) as Pick<LiveSnapshot, LivePart>;
      return { v: LIVE_VERSION, serverMs: now, signals: core.pipeline.infos(), states: core.pipeline.states(now), ...values };
    },
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    changed(what) {
      for (const listener of listeners) listener(what);
    },
  };
}

function rigView(
  { rig, bank, inverter, minisplit }: RigFile,
  timeZone: string,
  placeKnown: boolean,
  { demo, recorded = false, pace }: RunFacts,
  { rigFileFault }: Status,
): RigView {
  return {
    id: rig.id,
    name: rig.name,
    units: rig.units,
    timeZone,
    demo,
    recorded,
    pace,
    placeKnown,
    floorPct: bank.floor,
    confidencePct: bank.confidence,
    ...(rig.settingUp && { settingUp: true }),
    hasMinisplit: minisplit !== undefined,
    hasInverter: inverter !== undefined,
    rigFileFault,
  };
}

function healthView({ pipeline }: Core, clock: RigClock, { broker, brokerSinceMs, brokerWhy, store, copy, ...status }: Status): HealthView {
  const { messages, readings, rejected, lastMessageMs } = pipeline.health();
  const kept = { store, notKept: [...status.notKept()], storeNote: status.storeNote() };
  return { broker, brokerSinceMs, brokerWhy, ...kept, copy: copy.view(), messages, readings, rejected, lastMessageMs, clockDoubt: clock.doubt() };
}

/** Indexes of signals whose state differs in what may change without a reading: freshness and counts of rejections. */
export function quietChanges(before: readonly SignalState[], after: readonly SignalState[]): number[] {
  return after
    .filter((state, index) => {
      const old = before[index];
      return !old || old.freshness !== state.freshness || old.rejected !== state.rejected || old.quality !== state.quality;
    })
    .map(({ index }) => index);
}
