import type { Message } from '../../shared/schema/reading.ts';

/** How it stands with the broker: `connected` means that messages can arrive. */
export type SourceStatus = 'connected' | 'connecting' | 'lost';

export interface SourceHandlers {
  /** Called for every message, in order. What it throws ends nothing: it is told by `onStatus`. */
  onMessage(message: Omit<Message, 'tMs'>): void;
  /** Null while more may come, else settled when it may: until then senders are made to wait. Left out: more may always come. */
  room?(): Promise<void> | null;
  /** Called at every change; `reason` in words, without secrets. */
  onStatus(status: SourceStatus, reason: string): void;
}

/** Where messages come from: a broker outside, or the embedded one. Neither comes back after `stop`. */
export interface MessageSource {
  /**
   * Begins. An outside broker need not be there yet: it is tried until it is.
   * The embedded one rejects with BROKER_REFUSED or PORT_TAKEN when it cannot listen.
   */
  start(handlers: SourceHandlers): Promise<void>;
  stop(): Promise<void>;
  /**
   * Publishes at most once (QoS 0). Resolves when the message is on its way, rejects while there is no connection: nothing is kept for later.
   * `retain`: the broker shows it to whoever subscribes afterwards, an empty payload takes back what it shows.
   */
  publish(topic: string, payload: string, options: { readonly retain: boolean }): Promise<void>;
}

/** User name and password of the broker. */
export interface BrokerSecrets {
  readonly user: string;
  readonly password: string;
}

/** Hands a message over; a handler that throws must not end the connection, or the process. */
export function deliver(handlers: SourceHandlers, message: Omit<Message, 'tMs'>): void {
  try {
    handlers.onMessage(message);
  } catch (error) {
    handlers.onStatus('connected', `a message could not be handled: ${error instanceof Error ? error.message : String(error)}`);
  }
}
