import type { IncomingMessage } from 'node:http';
import { AppError } from '../../shared/errors.ts';
import type { Role } from '../../shared/schema/pairing.ts';
import type { Pairing } from './pairing.ts';

/** Name of the cookie that carries a paired device's token. */
export const TOKEN_COOKIE = 'dawnhold_device';

/** Who asks: what they may do, and a name for the record. */
export interface Visitor {
  readonly role: Role;
  readonly by: string;
  /** The paired device; null for whoever is on the box itself. */
  readonly deviceId: string | null;
}

/** Lets operators through. @throws AppError NOT_PAIRED for everyone else; `what` is what they wanted to do */
export function asOperator(visitor: Visitor | null, what: string): Visitor {
  if (visitor?.role === 'operator') return visitor;
  throw new AppError('NOT_PAIRED', `this device may look only; pair it as an operator to ${what}`);
}

/** The checks of every request, the same for HTTP and for each transport of the live channel. */
export interface Guard {
  /**
   * The Host header names this box: one of the allowed names, loopback, or the very address the connection came in on.
   * A web page that has its own name resolve to this box (name rebinding) fails here.
   * @throws AppError REQUEST_FOREIGN
   */
  checkHost(request: IncomingMessage): void;
  /**
   * The request does not come from a page of another origin. A browser names the page in Origin (and, on loopback or TLS,
   * in Sec-Fetch-Site); both are absent from its same-origin GETs over plain HTTP and from programs that are no browser,
   * so absence passes: what then protects the data is the SameSite cookie, and that a page cannot read a foreign answer.
   * @throws AppError REQUEST_FOREIGN
   */
  checkOrigin(request: IncomingMessage): void;
  /** Who asks. @throws AppError NOT_PAIRED when it is no paired device and the server does not listen on loopback alone */
  visitor(request: IncomingMessage): Promise<Visitor>;
}

const LOOPBACK_HOSTS = ['localhost', '127.0.0.1', '[::1]'];
const LOOPBACK_ADDRESS = /^(::1|(::ffff:)?127\.\d+\.\d+\.\d+)$/;
const COOKIE = new RegExp(`(?:^|;\\s*)${TOKEN_COOKIE}=([A-Za-z0-9_-]{43})(?:;|$)`);
const BEARER = /^Bearer ([A-Za-z0-9_-]{43})$/i;

/** The URL of a Host header under a scheme; null for what is no host. */
function hostUrl(header: string | undefined, scheme: string): URL | null {
  return header !== undefined && /^[A-Za-z0-9.:[\]_-]+$/.test(header) ? urlOf(`${scheme}//${header}`) : null;
}

function urlOf(text: string): URL | null {
  return URL.canParse(text) ? new URL(text) : null;
}

/** A socket's address as it stands in a URL. */
function urlHost(address: string | undefined): string | null {
  if (address === undefined) return null;
  const plain = address.replace(/^::ffff:(?=\d+\.)/, '');
  return plain.includes(':') ? `[${plain}]` : plain;
}

/**
 * @param options.allowedHosts names and addresses without port under which the box is reached, beside loopback
 * @param options.loopback the server listens on loopback alone, so that whoever gets a connection is on the box
 */
export function createGuard({ allowedHosts, loopback, pairing }: { allowedHosts: readonly string[]; loopback: boolean; pairing: Pairing }): Guard {
  const hosts = new Set([...LOOPBACK_HOSTS, ...allowedHosts].map((host) => host.toLowerCase()));
  return {
    checkHost({ headers, socket }) {
      const host = hostUrl(headers.host, 'http:')?.hostname;
      if (host !== undefined && (hosts.has(host) || host === urlHost(socket.localAddress))) return;
      throw new AppError('REQUEST_FOREIGN', 'this box is not known under that host name; use its address, or a name it was started with');
    },

    checkOrigin({ headers }) {
      const site = headers['sec-fetch-site'];
      const origin = headers.origin === undefined ? undefined : urlOf(headers.origin);
      const isOwn = origin === undefined || (origin !== null && origin.host !== '' && origin.host === hostUrl(headers.host, origin.protocol)?.host);
      if (isOwn && (site === undefined || site === 'same-origin' || site === 'none')) return;
      throw new AppError('REQUEST_FOREIGN', 'a page of another origin may not ask this box');
    },

    async visitor({ headers, socket }) {
      if (loopback && LOOPBACK_ADDRESS.test(socket.remoteAddress ?? '')) return { role: 'operator', by: 'this box', deviceId: null };
      const token = BEARER.exec(headers.authorization ?? '')?.[1] ?? COOKIE.exec(headers.cookie ?? '')?.[1];
      const device = token === undefined ? null : await pairing.device(token);
      if (!device) throw new AppError('NOT_PAIRED', 'this device is not paired with the rig; enter a code from `npm run pair -- --rig FILE` on the box');
      return { role: device.role, by: device.name, deviceId: device.deviceId };
    },
  };
}
