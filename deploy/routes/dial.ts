import { isIP, connect as netConnect, type Socket } from 'node:net';
import { connect as tlsConnect } from 'node:tls';
import type { AddressGuard } from './address-guard.ts';

/** Where a connection goes. */
export interface DialTarget {
  /** Name or address, without brackets. */
  readonly host: string;
  readonly port: number;
  /** Null: not encrypted. `ca`: certificate authorities in PEM in place of those that the system trusts. */
  readonly tls: { readonly ca?: string | undefined } | null;
}

/** Waits until a socket tells `event`; rejects, and ends the socket, when it fails or the signal says so first. */
function told(socket: Socket, event: 'connect' | 'secureConnect', signal: AbortSignal): Promise<void> {
  return new Promise((resolve, reject) => {
    const fail = (error: unknown): void => {
      settle();
      // A late error of a socket that nobody waits for any more would end the process.
      socket.on('error', () => undefined);
      socket.destroy();
      reject(error);
    };
    const onAbort = (): void => fail(signal.reason);
    const onClose = (): void => fail(Object.assign(new Error('closed'), { code: 'ECONNRESET' }));
    const onTold = (): void => {
      settle();
      resolve();
    };
    const settle = (): void => {
      signal.removeEventListener('abort', onAbort);
      socket.off(event, onTold).off('error', fail).off('close', onClose);
    };
    socket.once(event, onTold).once('error', fail).once('close', onClose);
    if (signal.aborted) onAbort();
    else signal.addEventListener('abort', onAbort, { once: true });
  });
}

/**
 * Opens a connection, encrypted where wanted with the certificate checked. Nothing is sent, not even a greeting, before the guard has
 * seen the address that the connection has.
 */
export async function dial({ host, port, tls }: DialTarget, guard: AddressGuard, signal: AbortSignal): Promise<Socket> {
  const plain = netConnect({ host, port, lookup: guard.lookup });
  await told(plain, 'connect', signal);
  try {
    guard.checkConnected(host, plain.remoteAddress);
  } catch (error) {
    plain.on('error', () => undefined).destroy();
    throw error;
  }
  if (tls === null) return plain;
  const secured = tlsConnect({ socket: plain, host, ...(isIP(host) === 0 && { servername: host }), ...(tls.ca !== undefined && { ca: tls.ca }) });
  await told(secured, 'secureConnect', signal);
  return secured;
}
