import type { SensorsReport } from '../../shared/schema/api.ts';
import type { Message } from '../../shared/schema/reading.ts';
import { nothingHeard, type Remembered, remember } from '../mapping/remembered.ts';
import { printable, printablePayload } from '../mqtt/printable.ts';

/** Topics remembered; a flood of others pushes out those heard least recently. */
const MAX_TOPICS = 500;
/** Longest topic shown, characters: the longest that can be mapped, every character escaped. */
const SHOWN_TOPIC = 5200;

/** Topics that no signal uses, by their exact text in a Map, with their last payload. A broker's own `$...` topics are not sensors and stay out. */
export class UnmappedTopics {
  #topics = new Map<string, Remembered>();
  #forgotten = 0;

  take(message: Message): void {
    if (message.topic.startsWith('$')) return;
    const entry = this.#topics.get(message.topic) ?? nothingHeard();
    remember(entry, message);
    this.put(message.topic, entry);
  }

  /** Takes over a topic that a new rig file maps no more, with what is remembered of it. */
  put(topic: string, entry: Remembered): void {
    if (entry.count === 0) return;
    // Taken out and put back, a Map keeps its entries in order of their last message.
    this.#topics.delete(topic);
    this.#topics.set(topic, entry);
    if (this.#topics.size <= MAX_TOPICS) return;
    for (const oldest of this.#topics.keys()) {
      this.#topics.delete(oldest);
      break;
    }
    this.#forgotten++;
  }

  /** Hands over what is remembered of a topic that a new rig file maps, and forgets it here. */
  give(topic: string): Remembered | null {
    const entry = this.#topics.get(topic) ?? null;
    this.#topics.delete(topic);
    return entry;
  }

  /** The topics by their exact text, each with its last message. */
  all(): ReadonlyMap<string, Remembered> {
    return this.#topics;
  }

  /** Forgets all of them. */
  reset(): void {
    this.#topics.clear();
    this.#forgotten = 0;
  }

  report(): Pick<SensorsReport, 'unmapped' | 'unmappedDropped'> {
    const unmapped = [...this.#topics].map(([topic, { count, lastMs, head, retained }]) => ({
      topic: printable(topic, SHOWN_TOPIC),
      count,
      lastMs: Math.round(lastMs),
      lastPayload: printablePayload(head),
      retained,
    }));
    return { unmapped: unmapped.sort((a, b) => (a.topic < b.topic ? -1 : 1)), unmappedDropped: this.#forgotten };
  }
}
