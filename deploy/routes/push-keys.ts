import { createECDH } from 'node:crypto';
import { join } from 'node:path';
import webPush from 'web-push';
import { z } from 'zod';
import { madeSecret, type RouteLog } from './made-secret.ts';

const KEYS_FILE = 'push-keys.json';

const base64url = z.string().regex(/^[A-Za-z0-9_-]+$/);
const PushKeys = z.strictObject({ publicKey: base64url, privateKey: base64url });
/** The rig's own key pair for Web Push (P-256), base64url. The public one goes to browsers that subscribe. @source RFC 8292 (2017). */
export type PushKeys = z.infer<typeof PushKeys>;

/** The rig's push keys, made at the first call in a data folder. A subscription is bound to them: with others, phones must subscribe anew. */
export function pushKeys(dataFolder: string, log: RouteLog): PushKeys {
  return madeSecret({
    path: join(dataFolder, KEYS_FILE),
    what: 'the key for phone alarms',
    parse: whole,
    make: () => webPush.generateVAPIDKeys(),
    format: (keys) => `${JSON.stringify(keys)}\n`,
    log,
  });
}

/** Null unless the public key belongs to the private one. */
function whole(text: string): PushKeys | null {
  try {
    const keys = PushKeys.parse(JSON.parse(text));
    const curve = createECDH('prime256v1');
    curve.setPrivateKey(Buffer.from(keys.privateKey, 'base64url'));
    return curve.getPublicKey('base64url') === keys.publicKey ? keys : null;
  } catch {
    return null;
  }
}
