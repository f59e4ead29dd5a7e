import type { TopicView } from '../../../../shared/schema/sensor-book.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';

/** A topic that is open is looked at this often, ms. */
const EVERY_MS = 2000;

export const fetchTopic = (topic: string): Promise<TopicView> => getJson<TopicView>(`/api/topic?topic=${encodeURIComponent(topic)}`);

/** The last message of one topic, kept up to date while it is open. */
export class TopicWatch {
  readonly #app: App;
  readonly #topic: string;
  view = $state.raw<TopicView | null>(null);
  fault = $state('');

  constructor(app: App, topic: string) {
    this.#app = app;
    this.#topic = topic;
  }

  /** Looks now and again; `then` is called after each look. Returns what ends it. */
  follow(then: () => void): () => void {
    const look = async () => {
      if (document.visibilityState !== 'visible') return;
      this.fault = await this.#app.read(async () => {
        this.view = await fetchTopic(this.#topic);
      });
      then();
    };
    void look();
    const timer = setInterval(look, EVERY_MS);
    return () => clearInterval(timer);
  }
}
