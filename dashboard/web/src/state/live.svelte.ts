import type { Alarm } from '../../../../shared/schema/alarm.ts';
import type { BankView, Flows } from '../../../../shared/schema/flows.ts';
import type { HealthView, LiveChange, LiveSnapshot, RigView, SignalInfo, SignalState, SunView } from '../../../../shared/schema/live.ts';
import type { ReachView } from '../../../../shared/schema/notice.ts';
import type { AnnouncedLoad } from '../../../../shared/schema/plan.ts';
import type { Projection } from '../../../../shared/schema/projection.ts';
import type { WatchView } from '../../../../shared/schema/watch-mode.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { type Contact, type Shown, shown } from '../format/freshness.ts';
import { standstill } from '../format/standstill.ts';
import { ADVISED_PROBABILITY, type Setting } from '../format/verdict.ts';
import type { LinkListener } from './link.ts';
import { PaceMaker } from './pace-maker.ts';
import { type LocalTime, RigClock } from './rig-clock.ts';

/** Screens change at most this often; under the server's 200 ms, so that a change does not wait for two intervals that beat against each other. */
const RENDER_MS = 180;
/** Where nothing has moved the time on for this long, it is moved on by itself. */
const BEAT_MS = 500;
/** Without a sign of the other side for this long (real time) values are no longer called fresh. */
const SILENCE_MS = 12_000;

/** How long a setting stands, ms. */
const SETTING_LIFE_MS = 86_400_000;

const local = (): LocalTime => ({ steadyMs: performance.now(), wallMs: Date.now() });

/** A signal with its last state. */
export interface LiveSignal {
  readonly info: SignalInfo;
  readonly state: SignalState | undefined;
}

/** What the live channel has told, as the screens read it. Parts are raw: they are replaced, never changed in place. */
export class LiveState implements LinkListener {
  rig = $state.raw<RigView | null>(null);
  signals = $state.raw<readonly SignalInfo[]>([]);
  states = $state.raw<ReadonlyMap<number, SignalState>>(new Map());
  flows = $state.raw<Flows | null>(null);
  bank = $state.raw<BankView | null>(null);
  projection = $state.raw<Projection | null>(null);
  alarms = $state.raw<readonly Alarm[]>([]);
  sun = $state.raw<SunView | null>(null);
  health = $state.raw<HealthView | null>(null);
  /** Loads that are announced, the first to start first; null where none can be. */
  plan = $state.raw<readonly AnnouncedLoad[] | null>(null);
  /** Whether alarms reach anybody; null where nothing is sent. */
  reach = $state.raw<ReachView | null>(null);
  /** The watch over somebody inside; null where there is none. */
  watch = $state.raw<WatchView | null>(null);
  /** The rig's time, moved on with every event and once a second. */
  nowMs = $state(0);
  /** The socket is up. */
  connected = $state(false);
  /** The socket is up and speaks. */
  live = $state(false);
  /** The other side speaks another version: the page has to be loaded again. */
  otherVersion = $state(false);
  /** Rises with every snapshot: whoever keeps a history fetches its gap then. */
  snapshots = $state(0);

  readonly #clock = new RigClock();
  readonly #pace = new PaceMaker(RENDER_MS, () => this.#render());
  #pending: LiveChange[] = [];
  #tickedMs = Number.NEGATIVE_INFINITY;
  readonly #asks: { refused: () => void };
  readonly contact = $derived<Contact>({ live: this.live, pace: this.rig?.pace ?? 1 });
  readonly #byName = $derived(new Map(this.signals.map((info) => [info.name, info])));

  /** Signals that are not fresh. */
  readonly silentSignals = $derived(this.signals.filter((info) => this.states.get(info.index)?.freshness !== 'fresh'));
  /** Signals that are fresh but not to be believed. */
  readonly suspectSignals = $derived.by(() => {
    const of = (info: SignalInfo) => this.states.get(info.index);
    return this.signals.filter((info) => of(info)?.freshness === 'fresh' && of(info)?.quality === 'suspect');
  });

  /** @param asks what the state needs done: `refused` hears of connections that failed */
  constructor(asks: { refused: () => void }) {
    this.#asks = asks;
  }

  /** Real ms since the other side was last heard. */
  get silentMs(): number {
    return this.#clock.silentMs(local());
  }

  /** Called once a second: moves the rig's time on, unless an event has just done so. */
  beat(): void {
    if (performance.now() - this.#tickedMs > BEAT_MS) this.#tick();
  }

  #tick(): void {
    const at = local();
    this.#tickedMs = at.steadyMs;
    this.nowMs = this.#clock.nowMs(at);
    this.live = this.connected && this.#clock.silentMs(at) < SILENCE_MS;
  }

  onSnapshot(snapshot: LiveSnapshot): void {
    this.#pending = [];
    this.#clock.sync(snapshot.serverMs, local(), snapshot.rig.pace);
    this.rig = snapshot.rig;
    this.signals = snapshot.signals;
    this.states = new Map(snapshot.states.map((state) => [state.index, state]));
    this.flows = snapshot.flows;
    this.bank = snapshot.bank;
    this.projection = snapshot.projection;
    this.alarms = snapshot.alarms;
    this.sun = snapshot.sun;
    this.health = snapshot.health;
    this.plan = snapshot.plan ?? null;
    this.reach = snapshot.reach ?? null;
    this.watch = snapshot.watch ?? null;
    this.connected = true;
    this.otherVersion = false;
    this.snapshots += 1;
    this.#tick();
  }

  onChange(change: LiveChange): void {
    this.#clock.sync(change.serverMs, local(), change.rig?.pace ?? this.rig?.pace ?? 1);
    this.#pending.push(change);
    if (change.alarms) this.#render();
    else this.#pace.ask();
  }

  onAlive(serverMs: EpochMs): void {
    this.#clock.sync(serverMs, local(), this.rig?.pace ?? 1);
    this.#tick();
  }

  onRefused(): void {
    this.#asks.refused();
  }

  onLost(): void {
    this.connected = false;
    this.live = false;
  }

  onOtherVersion(): void {
    this.onLost();
    this.otherVersion = true;
  }

  /** A signal by its name; undefined when the rig file maps none. */
  signal(name: string): LiveSignal | undefined {
    const info = this.#byName.get(name);
    return info && { info, state: this.states.get(info.index) };
  }

  /** How a signal's value is to be shown now; null when the rig file maps none. */
  shown(name: string): Shown | null {
    const signal = this.signal(name);
    return signal ? shown(signal.state, signal.info.everyS, this.nowMs, this.contact) : null;
  }

  /** What the words of a verdict depend on. A setpoint is sent when it changes, and stands for a day, as the engine takes it. */
  get setting(): Setting {
    const state = this.signal('minisplit.setpoint')?.state;
    const isInForce = state?.tMs != null && this.nowMs - state.tMs <= SETTING_LIFE_MS;
    return {
      nowMs: this.nowMs,
      zone: this.rig?.timeZone ?? 'UTC',
      units: this.rig?.units ?? 'metric',
      setpointC: isInForce ? (this.shown('minisplit.setpoint')?.value ?? null) : null,
      confidence: this.confidence,
    };
  }

  /** How sure the owner wants to be that the floor holds, 0 to 1. */
  get confidence(): number {
    const pct = this.rig?.confidencePct;
    return pct === undefined ? ADVISED_PROBABILITY : pct / 100;
  }

  /** Why nothing new comes in, in a sentence; '' while all is well. */
  get standstill(): string {
    return standstill({
      connected: this.connected,
      heardMs: this.nowMs - this.silentMs * this.contact.pace,
      health: this.health,
      states: [...this.states.values()],
      recorded: this.rig?.recorded ?? false,
      zone: this.rig?.timeZone ?? 'UTC',
    });
  }

  /** Why a signal gives nothing, in a few words. */
  reasonOf(name: string): string {
    const signal = this.shown(name);
    if (!signal) return 'no sensor';
    return signal.missing || (signal.old ? `silent, ${signal.old}` : 'no value');
  }

  #render(): void {
    const states = new Map(this.states);
    for (const change of this.#pending) {
      for (const state of change.states ?? []) states.set(state.index, state);
      this.rig = change.rig ?? this.rig;
      // Null says that it is no longer known.
      if (change.flows !== undefined) this.flows = change.flows;
      if (change.bank !== undefined) this.bank = change.bank;
      if (change.projection !== undefined) this.projection = change.projection;
      this.alarms = change.alarms ?? this.alarms;
      this.sun = change.sun ?? this.sun;
      this.health = change.health ?? this.health;
      this.plan = change.plan ?? this.plan;
      this.reach = change.reach ?? this.reach;
      this.watch = change.watch ?? this.watch;
    }
    if (this.#pending.some((change) => change.states)) this.states = states;
    this.#pending = [];
    this.#tick();
  }
}
