import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import { createServer as createTlsServer } from 'node:https';
import type { AddressInfo } from 'node:net';
import type { Certificate } from './certificate.ts';

export interface Request {
  readonly method: string;
  readonly path: string;
  readonly headers: IncomingMessage['headers'];
  readonly body: Buffer;
}

/** A real HTTP or HTTPS server on a free port of loopback; what it has been asked, and what it answers. */
export interface HttpServer {
  readonly port: number;
  readonly requests: Request[];
  /** Connections that were made, asked over or not. */
  connections(): number;
  answer: (response: ServerResponse, request: Request) => void;
  close(): Promise<void>;
}

export async function openHttpServer(options: { tls?: Certificate; listen?: string } = {}): Promise<HttpServer> {
  let connections = 0;
  const take = (incoming: IncomingMessage, response: ServerResponse): void => {
    const chunks: Buffer[] = [];
    incoming.on('data', (chunk: Buffer) => chunks.push(chunk));
    incoming.on('end', () => {
      const request = { method: incoming.method ?? '', path: incoming.url ?? '', headers: incoming.headers, body: Buffer.concat(chunks) };
      server.requests.push(request);
      server.answer(response, request);
    });
  };
  const listener = options.tls ? createTlsServer(options.tls, take) : createServer(take);
  listener.on('connection', () => {
    connections += 1;
  });
  await new Promise<void>((resolve) => listener.listen(0, options.listen ?? '127.0.0.1', resolve));
  const server: HttpServer = {
    port: (listener.address() as AddressInfo).port,
    requests: [],
    connections: () => connections,
    answer: (response) => void response.writeHead(204).end(),
    async close() {
      const closed = new Promise((resolve) => listener.close(resolve));
      listener.closeAllConnections();
      await closed;
    },
  };
  return server;
}
