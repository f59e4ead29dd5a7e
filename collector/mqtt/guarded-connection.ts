import type { Socket } from 'node:net';
import { Duplex } from 'node:stream';

/**
 * A socket that ends when a packet on it is announced longer than allowed, before any of it is gathered: the broker library gathers
 * a packet of up to 256 MB in memory before anybody can look at it.
 * @source OASIS (2014): MQTT Version 3.1.1, section 2.2 (fixed header).
 */
export class GuardedConnection extends Duplex {
  readonly #socket: Socket;
  readonly #maxBytes: number;
  /** Bytes of the present packet still to come; -1 while its header is read. */
  #left = -1;
  #header = { bytes: 0, length: 0 };

  constructor(socket: Socket, maxBytes: number) {
    super({ allowHalfOpen: false });
    this.#socket = socket;
    this.#maxBytes = maxBytes;
    socket.on('data', (chunk: Buffer) => this.#take(chunk));
    socket.on('end', () => this.push(null));
    socket.on('close', () => this.destroy());
    socket.on('error', (error) => this.destroy(error));
  }

  #take(chunk: Buffer): void {
    if (!this.#fits(chunk)) {
      this.destroy(new Error(`a packet of more than ${this.#maxBytes} bytes`));
      return;
    }
    if (!this.push(chunk)) this.#socket.pause();
  }

  /** Follows the packets through a chunk; false when one is too long or its length no length. */
  #fits(chunk: Buffer): boolean {
    for (let at = 0; at < chunk.length; ) {
      if (this.#left > 0) {
        const step = Math.min(this.#left, chunk.length - at);
        at += step;
        this.#left -= step;
        if (this.#left === 0) this.#left = -1;
        continue;
      }
      const header = this.#header;
      const byte = chunk[at++] ?? 0;
      if (header.bytes > 0) header.length += (byte & 0x7f) * 128 ** (header.bytes - 1);
      header.bytes++;
      if (header.bytes === 1) continue;
      if (header.length > this.#maxBytes || header.bytes > 5) return false;
      if ((byte & 0x80) !== 0) continue;
      this.#left = header.length === 0 ? -1 : header.length;
      this.#header = { bytes: 0, length: 0 };
    }
    return true;
  }

  override _read(): void {
    this.#socket.resume();
  }

  #send(data: Buffer, done: (error?: Error | null) => void): void {
    if (this.#socket.write(data)) done();
    else this.#socket.once('drain', () => done());
  }

  override _write(chunk: Buffer, _: BufferEncoding, done: (error?: Error | null) => void): void {
    this.#send(chunk, done);
  }

  /** The library writes a packet in many small pieces. */
  override _writev(chunks: { chunk: Buffer }[], done: (error?: Error | null) => void): void {
    this.#send(Buffer.concat(chunks.map(({ chunk }) => chunk)), done);
  }

  override _final(done: (error?: Error | null) => void): void {
    this.#socket.end(() => done());
  }

  override _destroy(error: Error | null, done: (error?: Error | null) => void): void {
    this.#socket.destroy();
    done(error);
  }
}
