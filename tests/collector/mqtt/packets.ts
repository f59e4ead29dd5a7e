/** MQTT 3.1.1 packets as bare bytes, for clients that send what no client library would. */

function packet(firstByte: number, body: Buffer): Buffer {
  const length: number[] = [];
  let left = body.length;
  do {
    length.push((left % 128) | (left >= 128 ? 0x80 : 0));
    left = Math.floor(left / 128);
  } while (left > 0);
  return Buffer.concat([Buffer.from([firstByte, ...length]), body]);
}

function text(value: string): Buffer {
  const bytes = Buffer.from(value);
  return Buffer.concat([Buffer.from([bytes.length >> 8, bytes.length & 0xff]), bytes]);
}

/** CONNECT with a clean session and a keep-alive of 60 s. */
export const connectPacket = (clientId: string): Buffer => packet(0x10, Buffer.concat([text('MQTT'), Buffer.from([4, 2, 0, 60]), text(clientId)]));

/** PUBLISH at quality of service 0, or 1 with a message number; `dup`: marked as sent before. */
export function publishPacket(topic: string, payload: string | Buffer, { messageId, dup = false }: { messageId?: number; dup?: boolean } = {}): Buffer {
  const id = messageId === undefined ? Buffer.alloc(0) : Buffer.from([messageId >> 8, messageId & 0xff]);
  return packet(0x30 | (dup ? 8 : 0) | (messageId === undefined ? 0 : 2), Buffer.concat([text(topic), id, Buffer.from(payload)]));
}

/** SUBSCRIBE to one filter at quality of service 0. */
export const subscribePacket = (filter: string): Buffer => packet(0x82, Buffer.concat([Buffer.from([0, 1]), text(filter), Buffer.from([0])]));
