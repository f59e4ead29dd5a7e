const START_ROOM = 256;

/** Bytes that grow as they are written. Whole numbers take 7 bits a byte, least first; signed ones alternate, so that small ones stay short. */
export interface ByteSink {
  byte(value: number): void;
  /** A whole number from 0 to 2^53. */
  whole(value: number): void;
  /** A whole number within 2^53. */
  signed(value: number): void;
  double(value: number): void;
  bytes(value: Uint8Array): void;
  text(value: string): void;
  done(): Uint8Array;
}

export function createSink(): ByteSink {
  let room = new Uint8Array(START_ROOM);
  let length = 0;
  const scratch = new DataView(new ArrayBuffer(8));

  function need(more: number): void {
    if (length + more <= room.length) return;
    const wider = new Uint8Array(Math.max(room.length * 2, length + more));
    wider.set(room);
    room = wider;
  }

  function whole(value: number): void {
    need(8);
    let rest = value;
    while (rest >= 0x80) {
      room[length++] = (rest % 0x80) | 0x80;
      rest = rest < 0x8000_0000 ? rest >>> 7 : Math.floor(rest / 0x80);
    }
    room[length++] = rest;
  }

  function bytes(value: Uint8Array): void {
    need(value.length);
    room.set(value, length);
    length += value.length;
  }

  return {
    byte(value) {
      need(1);
      room[length++] = value;
    },
    whole,
    signed: (value) => whole(value < 0 ? -2 * value - 1 : 2 * value),
    double(value) {
      scratch.setFloat64(0, value, true);
      bytes(new Uint8Array(scratch.buffer));
    },
    bytes,
    text(value) {
      const encoded = new TextEncoder().encode(value);
      whole(encoded.length);
      bytes(encoded);
    },
    done: () => room.slice(0, length),
  };
}

/** Reads what a sink wrote, in the same order. Throws SQLITE_CORRUPT past the end: bytes that were kept and came back short are damage. */
export class ByteSource {
  at = 0;
  private readonly room: Uint8Array;
  private readonly view: DataView;

  constructor(room: Uint8Array) {
    this.room = room;
    this.view = new DataView(room.buffer, room.byteOffset, room.byteLength);
  }

  byte(): number {
    const value = this.room[this.at++];
    return value === undefined ? damaged() : value;
  }

  whole(): number {
    let value = this.byte();
    if (value < 0x80) return value;
    value &= 0x7f;
    for (let scale = 0x80; ; scale *= 0x80) {
      const next = this.byte();
      value += (next & 0x7f) * scale;
      if (next < 0x80) return value;
    }
  }

  signed(): number {
    const value = this.whole();
    return value % 2 === 0 ? value / 2 : -(value + 1) / 2;
  }

  /** Signed whole numbers, each added to the one before: what fills a block, so without a call for each. */
  sums(count: number): Float64Array {
    const { room } = this;
    const sums = new Float64Array(count);
    let sum = 0;
    let { at } = this;
    for (let i = 0; i < count; i += 1) {
      // Nothing there reads as undefined, which is not under 0x80.
      const byte = room[at] as number;
      if (byte < 0x80) {
        at += 1;
        sum += byte & 1 ? -((byte + 1) >> 1) : byte >> 1;
      } else {
        this.at = at;
        sum += this.signed();
        at = this.at;
      }
      sums[i] = sum;
    }
    this.at = at;
    return sums;
  }

  double(): number {
    const from = this.at;
    this.at += 8;
    return this.at > this.room.length ? damaged() : this.view.getFloat64(from, true);
  }

  bytes(length: number): Uint8Array {
    const from = this.at;
    this.at += length;
    return this.at > this.room.length ? damaged() : this.room.subarray(from, this.at);
  }

  text(): string {
    return new TextDecoder().decode(this.bytes(this.whole()));
  }

  get ended(): boolean {
    return this.at >= this.room.length;
  }
}

/** The error of bytes that do not hold what was written into them. */
export function damaged(): never {
  throw Object.assign(new Error('stored bytes are not whole'), { code: 'SQLITE_CORRUPT' });
}
