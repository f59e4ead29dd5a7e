declare module 'http_ece' {
  import type { ECDH } from 'node:crypto';
  /** Decrypts a message (RFC 8188) with the keys of a subscription (RFC 8291). */
  export function decrypt(message: Buffer, keys: { version: 'aes128gcm'; privateKey: ECDH; authSecret: string }): Buffer;
}
