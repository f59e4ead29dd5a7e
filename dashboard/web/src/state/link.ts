import { io, type Socket } from 'socket.io-client';
import { LIVE_EVENTS, LIVE_VERSION, type SoundPermission } from '../../../../shared/live-version.ts';
import type { LiveChange, LiveSnapshot } from '../../../../shared/schema/live.ts';

/** What the live channel tells. */
export interface LinkListener {
  onSnapshot(snapshot: LiveSnapshot): void;
  onChange(change: LiveChange): void;
  /** The other side has answered a question of life with its time. */
  onAlive(serverMs: number): void;
  /** Contact is lost or refused; the link goes on trying by itself. */
  onLost(): void;
  /** A new connection was refused or found nobody; may say so again and again. */
  onRefused(): void;
  /** The server speaks another version of the events. */
  onOtherVersion(): void;
}

/** An answer to a question of life must come in this time. */
const PING_LIMIT_MS = 3000;

/** The live channel: connects, keeps trying, and after a sleep asks whether the other side is still there instead of trusting a socket that only looks open. */
export class Link {
  readonly #socket: Socket;
  readonly #listener: LinkListener;
  #isAsking = false;

  constructor(listener: LinkListener) {
    this.#listener = listener;
    this.#socket = io({ transports: ['websocket', 'polling'], tryAllTransports: true, reconnectionDelay: 500, reconnectionDelayMax: 5000, autoConnect: false });
    this.#socket.on(LIVE_EVENTS.snapshot, (snapshot: LiveSnapshot) => this.#versioned(snapshot.v, () => listener.onSnapshot(snapshot)));
    this.#socket.on(LIVE_EVENTS.change, (change: LiveChange) => this.#versioned(change.v, () => listener.onChange(change)));
    this.#socket.on('disconnect', (reason) => {
      listener.onLost();
      if (reason === 'io server disconnect') this.#socket.connect();
    });
    this.#socket.on('connect_error', () => {
      listener.onLost();
      listener.onRefused();
    });
    const look = () => {
      if (document.visibilityState === 'visible') void this.check();
    };
    document.addEventListener('visibilitychange', look);
    window.addEventListener('online', look);
    // Also fired at the first load, when the connection is still being made.
    window.addEventListener('pageshow', (event) => event.persisted && look());
  }

  connect(): void {
    this.#socket.connect();
  }

  /** Tears the connection down and makes a new one, which brings a fresh snapshot. */
  renew(): void {
    this.#socket.disconnect().connect();
  }

  /** Says whether this browser may sound; said anew with every connection by whoever calls. */
  tellSound(permission: SoundPermission): void {
    if (this.#socket.connected) this.#socket.emit(LIVE_EVENTS.sound, permission);
  }

  /** Asks whether the other side is there; no answer in time tears the connection down. */
  async check(): Promise<void> {
    if (this.#isAsking) return;
    if (!this.#socket.connected) return this.renew();
    this.#isAsking = true;
    try {
      this.#listener.onAlive(await this.#socket.timeout(PING_LIMIT_MS).emitWithAck(LIVE_EVENTS.ping));
    } catch {
      this.#listener.onLost();
      this.renew();
    } finally {
      this.#isAsking = false;
    }
  }

  #versioned(v: number, take: () => void): void {
    if (v === LIVE_VERSION) {
      take();
      return;
    }
    this.#socket.disconnect();
    this.#listener.onOtherVersion();
  }
}
