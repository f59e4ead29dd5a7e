import { generate, type QoS } from 'mqtt-packet';

/** Signals of the rig that is fed, each on a topic of its own. */
export const SIGNALS: readonly string[] = ['bank.voltage', 'bank.current', ...Array.from({ length: 18 }, (_, at) => `load.part${at + 1}.power`)];
export const TOPICS: readonly string[] = SIGNALS.map((_, at) => `feed/${at}`);

/** The rig that is fed: twenty signals, each a field of a JSON message of its own. */
export const RIG_TEXT = `
rig: { id: feed, name: Feed }
bank: { cells: 8, capacityAh: 280 }
signals:
${SIGNALS.map((name, at) => `  ${name}: { topic: ${TOPICS[at]}, format: json, pointer: /value, every: 1 s }`).join('\n')}
`;

/** Messages in flight at most, as brokers limit them; a number is free again before it comes round. */
const WINDOW = 1000;
/** Messages made beforehand, and sent over and over: making them is not what is measured. */
const RING = 2 * WINDOW;

/** What a board sends at a turn: a value that its signal may have, and never twice the same in a row. */
function payloadAt(turn: number, signal: number): string {
  const value = signal === 0 ? 26 + (turn % 90) / 100 : ((turn * 7) % 900) / 10 + 1;
  return JSON.stringify({ value, board: `board ${signal}`, uptime: 1000 + turn });
}

const packetAt = (at: number, qos: QoS): Buffer => {
  const signal = at % SIGNALS.length;
  const payload = payloadAt(Math.floor(at / SIGNALS.length), signal);
  return generate({ cmd: 'publish', topic: `feed/${signal}`, payload, qos, dup: false, retain: false, ...(qos > 0 && { messageId: at + 1 }) });
};

/** Sends a count of messages as fast as the other side takes them: as its socket drains, with acknowledgements also as they come. */
export interface Pump {
  go(): void;
  /** So many more messages were acknowledged. */
  acknowledged(more: number): void;
  /** The socket takes bytes again. */
  drained(): void;
}

/** @param write  false: the socket has enough for now */
export function createPump(count: number, qos: QoS, write: (bytes: Buffer) => boolean): Pump {
  const packets = Array.from({ length: RING }, (_, at) => packetAt(at, qos));
  const ends = packets.map(
    (
      (sum) =>
      ({ length }) =>
        (sum += length)
    )(0),
  );
  const bytes = Buffer.concat(packets);
  let sent = 0;
  let done = 0;
  let isFree = true;

  function go(): void {
    while (isFree && sent < count) {
      const at = sent % RING;
      const step = Math.min(qos > 0 ? WINDOW - (sent - done) : WINDOW, count - sent, RING - at);
      if (step <= 0) return;
      sent += step;
      isFree = write(bytes.subarray(ends[at - 1] ?? 0, ends[at + step - 1]));
    }
  }

  return {
    go,
    acknowledged(more) {
      done += more;
      go();
    },
    drained() {
      isFree = true;
      go();
    },
  };
}
