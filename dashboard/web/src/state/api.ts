/** An answer of the HTTP side that is no success: its code and message for people; code `OFFLINE` when there was no answer. */
export class ApiFault extends Error {
  readonly code: string;
  constructor(code: string, message: string) {
    super(message);
    this.name = 'ApiFault';
    this.code = code;
  }
}

/** An answer may take this long where nothing has to be worked out, ms. */
const LIMIT_MS = 10_000;

/** Asks the rig's own server. Throws ApiFault with the server's code and message, or OFFLINE. */
async function ask<T>(path: string, init: RequestInit = {}, limitMs = LIMIT_MS): Promise<T> {
  let answer: Response;
  try {
    answer = await fetch(path, { ...init, signal: AbortSignal.timeout(limitMs) });
  } catch {
    throw new ApiFault('OFFLINE', 'The box does not answer. Is this device on its network?');
  }
  const body = await answer.json().catch(() => null);
  if (answer.ok && body !== null) return body as T;
  throw new ApiFault(String(body?.code ?? answer.status), String(body?.message ?? `The box answered with ${answer.status}.`));
}

export const getJson = <T>(path: string): Promise<T> => ask<T>(path);

/** @param limitMs  how long the answer may take, where it has to be worked out */
export const postJson = <T>(path: string, body: unknown, limitMs = LIMIT_MS): Promise<T> =>
  ask<T>(path, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }, limitMs);

/** A random version 4 UUID. Made by hand because the browser's own maker is missing on plain http, where a wall tablet often lives. */
export function uuid(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = ((bytes[6] ?? 0) & 0x0f) | 0x40;
  bytes[8] = ((bytes[8] ?? 0) & 0x3f) | 0x80;
  const hex = [...bytes].map((b) => b.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}
