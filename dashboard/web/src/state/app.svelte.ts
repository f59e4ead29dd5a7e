import { getContext, setContext } from 'svelte';
import type { Alarm } from '../../../../shared/schema/alarm.ts';
import type { Command, CommandResult } from '../../../../shared/schema/api.ts';
import { ApiFault, getJson, postJson, uuid } from './api.ts';
import { ContactNote } from './last-contact.ts';
import { Link } from './link.ts';
import { LiveState } from './live.svelte.ts';
import { Look } from './look.svelte.ts';
import { PlaceState } from './place.svelte.ts';
import { Sound } from './sound.svelte.ts';
import { Trace } from './trace.svelte.ts';
import type { Wall } from './wall.svelte.ts';

/** A command as it is meant; its id and expiry are given when it is sent. */
export type Meant<C = Command> = C extends Command ? Omit<C, 'id' | 'expiresMs'> : never;

/** A command that reaches the box later than this (real ms) is not carried out. */
const COMMAND_LIFE_MS = 15_000;
/** After this silence (real ms) the other side is asked whether it is there. */
const ASK_AFTER_MS = 8000;
/** A past that the box does not have yet is asked for this often (real ms). */
const TRACE_EVERY_MS = 10_000;

/** Everything the screens share. Made once. */
export class App {
  readonly live = new LiveState({ refused: () => void this.#askWhyRefused() });
  readonly trace = new Trace();
  readonly look = new Look();
  readonly place = new PlaceState();
  readonly sound = new Sound();
  /** The box asks for a pairing code. */
  unpaired = $state(false);
  /** What lets the page stand for weeks; it comes after the first paint, null until then. */
  wall = $state.raw<Wall | null>(null);
  #tracedMs = 0;
  readonly #contact = new ContactNote();
  readonly #link = new Link(this.live);

  /** Connects and keeps the clocks going; returns what stops them. */
  start(): () => void {
    this.#link.connect();
    const timer = setInterval(() => {
      this.live.beat();
      this.#noteContact();
      if (this.live.connected && this.live.silentMs > ASK_AFTER_MS) void this.#link.check();
      if (this.live.connected && this.trace.isBehind(this.live.nowMs) && performance.now() - this.#tracedMs > TRACE_EVERY_MS) void this.fetchTrace();
    }, 1000);
    return () => clearInterval(timer);
  }

  /** A fresh connection, as after pairing. */
  reconnect(): void {
    this.unpaired = false;
    this.#link.renew();
  }

  /** A snapshot has come: the past may have a gap. */
  welcome(): void {
    this.unpaired = false;
    this.#noteContact();
    void this.fetchTrace();
  }

  /** Tells the box whether this screen may sound: it counts as a way to be called. */
  tellSound(): void {
    this.#link.tellSound(this.sound.permission);
  }

  /** Fetches the past that is missing. A fault leaves the gap, to be tried again by the clock. */
  async fetchTrace(): Promise<void> {
    this.#tracedMs = performance.now();
    await this.read(() => this.trace.refresh(this.live.nowMs));
  }

  /** Does a reading request; its fault in words, '' when it went well. Notices when the box asks this device for a code. */
  async read(work: () => Promise<void>): Promise<string> {
    try {
      await work();
      return '';
    } catch (error) {
      if (!(error instanceof ApiFault)) throw error;
      if (error.code === 'NOT_PAIRED') this.unpaired = true;
      return error.message;
    }
  }

  #noteContact(): void {
    if (this.live.live && this.live.rig) this.#contact.keep(this.live.rig, this.live.nowMs, this.live.silentMs);
  }

  /** The live channel does not say why it refuses; the HTTP side does. */
  async #askWhyRefused(): Promise<void> {
    await this.read(async () => void (await getJson('/api/health')));
  }

  /** Acknowledges an alarm's occurrence. */
  acknowledge(alarm: Alarm): Promise<string> {
    return this.command({ kind: 'acknowledge', alarmId: alarm.id, occurrence: alarm.occurrence });
  }

  /** Gives a command. Refused while there is no contact: it must not be carried out hours later. Resolves with what went wrong, '' when nothing did. */
  async command(meant: Meant): Promise<string> {
    if (!this.live.connected) return 'Not sent: there is no contact with the box. Try again when it is back.';
    const command: Command = {
      ...meant,
      id: uuid(),
      expiresMs: Math.ceil(this.live.nowMs + COMMAND_LIFE_MS * (this.live.rig?.pace ?? 1)),
    };
    try {
      const result = await postJson<CommandResult>('/api/commands', command);
      return result.done ? '' : result.reason;
    } catch (error) {
      if (!(error instanceof ApiFault)) throw error;
      return error.message;
    }
  }
}

const KEY = Symbol('app');
export const provideApp = (app: App): App => setContext(KEY, app);
export const useApp = (): App => getContext<App>(KEY);
