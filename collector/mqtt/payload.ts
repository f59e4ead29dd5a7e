import { isAscii } from 'node:buffer';
import type { RejectReason } from '../../shared/schema/reading.ts';
import { type ParsedJson, parseJson } from './json.ts';

/** Largest payload of a reading, bytes. */
export const MAX_PAYLOAD_BYTES = 16 * 1024;
/** Largest payload of a forecast, bytes. */
export const MAX_FORECAST_BYTES = 64 * 1024;

const decoder = new TextDecoder('utf-8', { fatal: true });
const C_BUFFER_TAIL = /[\0\r\n]+$/;

/** One message's payload, opened once for all signals that read it; the JSON is parsed when first asked for. */
export class OpenedPayload {
  /** Why nothing can be read from it; null when something may. */
  readonly reason: RejectReason | null;
  readonly text: string;
  /** A NUL, a line end or a byte order mark was cut off. */
  readonly trimmed: boolean;
  #json: ParsedJson | null = null;

  constructor(reason: RejectReason | null, text: string, trimmed: boolean) {
    this.reason = reason;
    this.text = text;
    this.trimmed = trimmed;
  }

  json(): ParsedJson {
    this.#json ??= parseJson(this.text);
    return this.#json;
  }
}

const refused = (reason: RejectReason) => new OpenedPayload(reason, '', false);

/** Bytes to text: size cap first, then strict UTF-8, then the tail that C buffers leave. `empty` for nothing, blanks and a bare `null`. Cannot throw. */
export function openPayload(payload: Uint8Array, maxBytes: number = MAX_PAYLOAD_BYTES): OpenedPayload {
  if (payload.length > maxBytes) return refused('too-large');
  if (payload.length === 0) return refused('empty');
  let text: string;
  if (isAscii(payload)) {
    text = (Buffer.isBuffer(payload) ? payload : Buffer.from(payload.buffer, payload.byteOffset, payload.length)).toString('latin1');
  } else {
    try {
      text = decoder.decode(payload);
    } catch {
      return refused('not-utf8');
    }
  }
  const last = text.charCodeAt(text.length - 1);
  const trimmed = last === 0 || last === 0x0a || last === 0x0d ? text.replace(C_BUFFER_TAIL, '') : text;
  const bare = trimmed.trim();
  if (bare === '' || bare === 'null') return refused('empty');
  return new OpenedPayload(null, trimmed, trimmed.length !== text.length || (payload[0] === 0xef && payload[1] === 0xbb && payload[2] === 0xbf));
}
