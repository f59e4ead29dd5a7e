import { once } from 'node:events';
import { type AddressInfo, connect, createServer, type Socket } from 'node:net';

/** A wire to a server on this machine, which counts what comes back over it. */
export interface Wire {
  readonly url: string;
  /** Bytes that the server has sent so far, whatever they were. */
  receivedBytes(): number;
  close(): Promise<void>;
}

export async function startWire(serverUrl: string): Promise<Wire> {
  const { hostname, port } = new URL(serverUrl);
  const open = new Set<Socket>();
  let received = 0;
  const cut = (sockets: readonly Socket[]) => {
    for (const socket of sockets) socket.destroy();
  };
  const server = createServer((near) => {
    const far = connect(Number(port), hostname);
    far.on('data', ({ length }: Buffer) => {
      received += length;
    });
    near.pipe(far).pipe(near);
    for (const socket of [near, far]) {
      open.add(socket);
      socket
        .on('error', () => undefined)
        .on('close', () => {
          open.delete(socket);
          cut([near, far]);
        });
    }
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  return {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}`,
    receivedBytes: () => received,
    async close() {
      const closed = once(server, 'close');
      server.close();
      cut([...open]);
      await closed;
    },
  };
}
