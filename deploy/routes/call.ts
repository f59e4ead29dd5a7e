import { type IncomingHttpHeaders, type OutgoingHttpHeaders, request } from 'node:http';
import type { AddressGuard } from './address-guard.ts';
import { type DialTarget, dial } from './dial.ts';

export interface Call {
  readonly url: URL;
  readonly method: 'GET' | 'POST';
  readonly headers: OutgoingHttpHeaders;
  readonly body?: Buffer | undefined;
  readonly guard: AddressGuard;
  readonly signal: AbortSignal;
  /** Certificate authorities in PEM in place of those that the system trusts. */
  readonly ca?: string | undefined;
  /** The answer is read up to so many bytes; the rest is left. Default 4096. */
  readonly maxBytes?: number;
}

export interface Answer {
  readonly status: number;
  readonly headers: IncomingHttpHeaders;
  /** The answer's beginning. Looked at, never passed on. */
  readonly text: string;
}

/** Where an http or https address leads. */
export function targetOf(url: URL, ca?: string): DialTarget {
  const secure = url.protocol === 'https:';
  return { host: url.hostname.replace(/^\[|\]$/g, ''), port: Number(url.port || (secure ? 443 : 80)), tls: secure ? { ca } : null };
}

/** One HTTP request over a connection of its own, by the guard. Redirects are not followed. Rejects with what went wrong on the way. */
export async function call({ url, method, headers, body, guard, signal, ca, maxBytes = 4096 }: Call): Promise<Answer> {
  guard.checkUrl(url);
  const socket = await dial(targetOf(url, ca), guard, signal);
  try {
    return await new Promise<Answer>((resolve, reject) => {
      signal.addEventListener('abort', () => reject(signal.reason), { once: true });
      if (signal.aborted) reject(signal.reason);
      const sent = request({
        createConnection: () => socket,
        method,
        path: `${url.pathname}${url.search}`,
        headers: { host: url.host, connection: 'close', ...headers, ...(body && { 'content-length': body.length }) },
      });
      sent.on('error', reject);
      sent.on('response', (response) => {
        const chunks: Buffer[] = [];
        let bytes = 0;
        const done = (): void => resolve({ status: response.statusCode ?? 0, headers: response.headers, text: Buffer.concat(chunks).toString('utf8') });
        response.on('data', (chunk: Buffer) => {
          chunks.push(chunk.subarray(0, maxBytes - bytes));
          bytes += chunk.length;
          if (bytes >= maxBytes) done();
        });
        response.on('end', done);
        response.on('error', reject);
      });
      sent.end(body);
    });
  } finally {
    socket.on('error', () => undefined).destroy();
  }
}
