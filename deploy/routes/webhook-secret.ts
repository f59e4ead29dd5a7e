import { randomBytes } from 'node:crypto';
import { join } from 'node:path';
import { madeSecret, type RouteLog } from './made-secret.ts';

/** How a key is written. @source Standard Webhooks 1.0 (2023), "Signature scheme". */
const PREFIX = 'whsec_';
const KEY_BYTES = 32;

/** The key in its written form; null where it is none. */
function keyOf(text: string): Buffer | null {
  const written = text.trim();
  const key = Buffer.from(written.slice(PREFIX.length), 'base64');
  return written.startsWith(PREFIX) && key.length >= 24 && key.length <= 64 ? key : null;
}

/** The key that the person gives: in its written form, or any text as it stands. */
export const givenKey = (text: string): Buffer => keyOf(text) ?? Buffer.from(text, 'utf8');

/** The key of one webhook, made at first and kept in the data folder for the person to give to whoever receives. */
export function webhookKey(dataFolder: string, route: string, log: RouteLog): Buffer {
  const path = join(dataFolder, `webhook-${route}.secret`);
  return madeSecret({
    path,
    what: `the secret that signs the webhook ${route}, for whoever receives it,`,
    parse: keyOf,
    make: () => randomBytes(KEY_BYTES),
    format: (key) => `${PREFIX}${key.toString('base64')}\n`,
    log,
  });
}
