/** Bounds on what a broker keeps for later subscribers, all of it in memory. */
export interface RetainedBounds {
  readonly topics: number;
  /** Payloads together, bytes. */
  readonly bytes: number;
}

/** Says of each message that asks to be retained whether it may be. An empty payload frees its topic; a kept topic may change within the bytes. */
export function createRetainedLimit(bounds: RetainedBounds): (topic: string, payloadBytes: number) => boolean {
  const kept = new Map<string, number>();
  let total = 0;
  return (topic, payloadBytes) => {
    const before = kept.get(topic);
    const after = total - (before ?? 0) + payloadBytes;
    if (payloadBytes > 0 && (after > bounds.bytes || (before === undefined && kept.size >= bounds.topics))) return false;
    total = after;
    if (payloadBytes === 0) kept.delete(topic);
    else kept.set(topic, payloadBytes);
    return true;
  };
}
