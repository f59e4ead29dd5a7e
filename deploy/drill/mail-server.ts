import { type AddressInfo, createServer, type Socket } from 'node:net';
import { SMTPServer } from 'smtp-server';

/** A mail server on loopback and what it has taken. */
export interface MailServer {
  readonly port: number;
  /** Each mail as it came, headers and text. */
  readonly got: readonly string[];
  /** Connections that were made. */
  asked(): number;
  close(): Promise<void>;
}

/** One that takes every mail. */
export async function openMailServer(): Promise<MailServer> {
  const got: string[] = [];
  let asked = 0;
  const server = new SMTPServer({
    authOptional: true,
    disabledCommands: ['STARTTLS', 'AUTH'],
    onConnect(_session, done) {
      asked += 1;
      done();
    },
    onData(stream, _session, done) {
      const chunks: Buffer[] = [];
      stream.on('data', (chunk: Buffer) => chunks.push(chunk));
      stream.on('end', () => {
        got.push(Buffer.concat(chunks).toString('utf8'));
        done();
      });
    },
  });
  server.on('error', () => undefined);
  const listener = server.listen(0, '127.0.0.1');
  await new Promise<void>((resolve) => listener.once('listening', () => resolve()));
  return { port: (listener.address() as AddressInfo).port, got, asked: () => asked, close: () => new Promise((resolve) => server.close(() => resolve())) };
}

/** One that takes connections and never says a word. */
export async function openHangingMailServer(): Promise<MailServer> {
  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.on('error', () => undefined);
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return {
    port: (server.address() as AddressInfo).port,
    got: [],
    asked: () => sockets.size,
    async close() {
      const closed = new Promise<void>((resolve) => server.close(() => resolve()));
      for (const socket of sockets) socket.destroy();
      await closed;
    },
  };
}
