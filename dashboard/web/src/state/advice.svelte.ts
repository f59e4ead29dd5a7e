import { OneAtATime } from '../../../../shared/one-at-a-time.ts';
import type { AdviceQuestion, RunAdvice, TonightAdvice } from '../../../../shared/schema/advice.ts';
import { agreeing } from '../format/agree.ts';
import { confidenceOf } from '../format/limits.ts';
import { postJson } from './api.ts';
import type { App } from './app.svelte.ts';

/** A small box works on a question for some seconds, and may have others before it, ms. */
const LIMIT_MS = 60_000;
/** What was not answered is asked again after this, ms. */
const AGAIN_MS = 10_000;

const ask = <T>(question: AdviceQuestion): Promise<T> => postJson<T>('/api/advice', question, LIMIT_MS);

/** The advice for tonight, as sure as the owner wants it, asked anew with every projection; never two questions of this page at a time. */
export class AdviceState {
  readonly #app: App;
  readonly #turns = new OneAtATime();
  #answer = $state.raw<TonightAdvice | null>(null);
  /** Why the last question has no answer; '' when it has. */
  fault = $state('');
  #isBehind = false;
  #isAsking = false;
  #isFollowed = false;
  #timer: ReturnType<typeof setTimeout> | undefined;

  constructor(app: App) {
    this.#app = app;
  }

  /** The projection that is spoken of; null while nothing can be told of the night: advice would speak of another one. */
  readonly projection = $derived.by(() => {
    const { projection } = this.#app.live;
    return projection && projection.verdict !== 'unknown' ? projection : null;
  });
  /** The last answer, also while a newer one is worked out. */
  readonly tonight = $derived.by(() => this.projection && this.#answer && agreeing(this.#answer, this.projection));
  /** What stands in the place of an answer. */
  readonly waiting = $derived.by(() =>
    !this.projection ? 'It comes with the first projection that can tell something.' : this.fault ? 'Not known yet.' : 'It is being worked out.',
  );

  /** Follows a page that comes back into sight; returns what ends that and the asking again. */
  follow(): () => void {
    const look = () => void (this.#isBehind && this.#work());
    document.addEventListener('visibilitychange', look);
    this.#isFollowed = true;
    return () => {
      this.#isFollowed = false;
      document.removeEventListener('visibilitychange', look);
      clearTimeout(this.#timer);
      this.#isBehind = false;
    };
  }

  /** There is a new projection: asks, or asks once more when the question under way is answered. */
  renew(): void {
    this.#isBehind = true;
    void this.#work();
  }

  /** Whether a load can be run. Throws ApiFault. */
  run(question: Extract<AdviceQuestion, { kind: 'run' }>): Promise<RunAdvice> {
    return this.#turns.take(() => ask<RunAdvice>(question));
  }

  async #work(): Promise<void> {
    if (this.#isAsking) return;
    this.#isAsking = true;
    clearTimeout(this.#timer);
    while (this.#isBehind && document.visibilityState === 'visible') {
      this.#isBehind = false;
      this.fault = await this.#app.read(async () => {
        this.#answer = await this.#turns.take(() => ask<TonightAdvice>({ kind: 'tonight', confidence: confidenceOf(this.#app.live.rig) / 100 }));
      });
    }
    this.#isAsking = false;
    if (this.fault !== '' && this.#isFollowed) this.#timer = setTimeout(() => this.renew(), AGAIN_MS);
  }
}
