import type { SensorsReport } from '../../shared/schema/api.ts';
import type { Message } from '../../shared/schema/reading.ts';
import { printable, printablePayload } from '../mqtt/printable.ts';
import { keepHead } from './counters.ts';

/** Topics remembered; a flood of others pushes out those heard least recently. */
const MAX_TOPICS = 500;
/** Longest topic shown, characters: the longest that can be mapped, every character escaped. */
const SHOWN_TOPIC = 5200;

/** Topics that no signal uses, by their exact text in a Map, with their last payload. A broker's own `$...` topics are not sensors and stay out. */
export class UnmappedTopics {
  #topics = new Map<string, { count: number; lastMs: number; head: Uint8Array; retained: boolean }>();
  #forgotten = 0;

  take(message: Message): void {
    if (message.topic.startsWith('$')) return;
    const entry = this.#topics.get(message.topic);
    // Taken out and put back, a Map keeps its entries in order of their last message.
    this.#topics.delete(message.topic);
    this.#topics.set(message.topic, { count: (entry?.count ?? 0) + 1, lastMs: message.tMs, head: keepHead(message.payload), retained: message.retained });
    if (this.#topics.size <= MAX_TOPICS) return;
    for (const oldest of this.#topics.keys()) {
      this.#topics.delete(oldest);
      break;
    }
    this.#forgotten++;
  }

  /** Forgets topics that a new rig file maps. */
  forget(topics: Iterable<string>): void {
    for (const topic of topics) this.#topics.delete(topic);
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
