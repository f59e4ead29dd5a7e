import type { AlarmEntry } from '../../../../shared/schema/alarm-rule.ts';
import type { RulePreview } from '../../../../shared/schema/rule-preview.ts';
import { ApiFault } from './api.ts';
import { askPreview } from './rule-previews.svelte.ts';

/** What is typed is asked for after this rest, ms; and again after this, when another device had its turn. */
const REST_MS = 600;
const AGAIN_MS = 2000;

/** How a rule in the making would have done, beside the rule as it is. Only the newest question's answer counts. */
export class EditPreview {
  /** The rule as it is; null for a new one, and until it is known. */
  before = $state.raw<RulePreview | null>(null);
  after = $state.raw<RulePreview | null>(null);
  /** Why it cannot be told, in words; '' when it can. */
  fault = $state('');
  isAsking = $state(false);
  #timer: ReturnType<typeof setTimeout> | undefined;
  #question = 0;
  #asked = '';

  /** Follows the rule as typed; null while it is none yet. */
  follow(entry: AlarmEntry | null): void {
    const asked = JSON.stringify(entry);
    if (asked === this.#asked) return;
    this.#asked = asked;
    clearTimeout(this.#timer);
    const question = ++this.#question;
    this.isAsking = entry !== null;
    if (entry) {
      this.#timer = setTimeout(() => void this.#ask(entry, question), REST_MS);
      return;
    }
    this.after = null;
    this.fault = '';
  }

  /** Asks for the rule as it is, once. */
  async compareWith(entry: AlarmEntry): Promise<void> {
    try {
      this.before = await askPreview(entry);
    } catch (error) {
      if (!(error instanceof ApiFault)) throw error;
      // Without it there is only nothing to compare with.
    }
  }

  stop(): void {
    clearTimeout(this.#timer);
    this.#question += 1;
  }

  async #ask(entry: AlarmEntry, question: number): Promise<void> {
    const isNewest = (): boolean => question === this.#question;
    try {
      const answer = await askPreview(entry);
      if (!isNewest()) return;
      this.after = answer;
      this.fault = '';
    } catch (error) {
      if (!(error instanceof ApiFault)) throw error;
      if (!isNewest()) return;
      if (error.code === 'TOO_BUSY') {
        this.#timer = setTimeout(() => void this.#ask(entry, question), AGAIN_MS);
        return;
      }
      this.after = null;
      this.fault = error.message;
    }
    this.isAsking = false;
  }
}
