import { closeJson } from './close-json.ts';

/** As much of a topic's last payload as is remembered, bytes. */
export const REMEMBERED_BYTES = 4096;

/** The last message of a topic, and how many there were. */
export interface Remembered {
  count: number;
  lastMs: number;
  /** When a message last came live, which the broker had not kept; null before the first. */
  liveMs: number | null;
  retained: boolean;
  /** A copy of the payload's head, overwritten by the next: the original may be a slice of a socket's whole chunk and would keep it alive. */
  head: Uint8Array;
  /** The payload was longer than its head. */
  isCut: boolean;
}

/** What is remembered of a topic before its first message. */
export const nothingHeard = (): Remembered => ({ count: 0, lastMs: 0, liveMs: null, retained: false, head: new Uint8Array(0), isCut: false });

/** Takes a message into what is remembered of its topic. */
export function remember(
  entry: Remembered,
  { tMs, retained, payload }: { readonly tMs: number; readonly retained: boolean; readonly payload: Uint8Array },
): void {
  entry.count++;
  entry.lastMs = tMs;
  if (!retained) entry.liveMs = tMs;
  entry.retained = retained;
  entry.isCut = payload.length > REMEMBERED_BYTES;
  const head = entry.isCut ? payload.subarray(0, REMEMBERED_BYTES) : payload;
  // Messages of a topic are mostly of one length: a new array for each would be most of the work.
  if (entry.head.length !== head.length) entry.head = new Uint8Array(head.length);
  entry.head.set(head);
}

/** The payload as it can be decoded: of one that was cut, the values that came whole, with what was open closed. */
export function decodable({ head, isCut }: Pick<Remembered, 'head' | 'isCut'>): Uint8Array {
  return isCut ? Buffer.from(closeJson(Buffer.from(head).toString('utf8'))) : head;
}
