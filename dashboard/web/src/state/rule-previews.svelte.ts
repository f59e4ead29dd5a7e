import { SvelteMap } from 'svelte/reactivity';
import type { RuleView } from '../../../../shared/schema/alarm-book.ts';
import type { AlarmEntry } from '../../../../shared/schema/alarm-rule.ts';
import type { RulePreview } from '../../../../shared/schema/rule-preview.ts';
import { ApiFault, postJson } from './api.ts';
import { InSight } from './in-sight.ts';

/** A small box works on it for some seconds, ms. */
const LIMIT_MS = 60_000;
/** Another device had its turn: asked again after this, ms. */
const AGAIN_MS = 3000;

export const askPreview = (entry: AlarmEntry): Promise<RulePreview> => postJson<RulePreview>('/api/rule-preview', { entry }, LIMIT_MS);

export const savedEntry = (rule: RuleView): AlarmEntry => rule.entry ?? { id: rule.id };

/** How the rules as they are would have done: asked for one after the other, and only while they are in sight. */
export class RulePreviews {
  readonly #known = new SvelteMap<string, { readonly key: string; readonly preview: RulePreview | null; readonly fault: string }>();
  readonly #wanted = new Map<string, RuleView>();
  readonly #inSight = new InSight();
  #isWorking = false;

  /** What is known of a rule as it is now; null while it is not. */
  of(rule: RuleView): { readonly preview: RulePreview | null; readonly fault: string } | null {
    const known = this.#known.get(rule.id);
    return known && known.key === keyOf(rule) ? known : null;
  }

  /** An attachment: the rule is asked about while the element can be seen. */
  whileInSight(rule: RuleView): (element: Element) => () => void {
    return this.#inSight.while(() => this.#want(rule));
  }

  #want(rule: RuleView): () => void {
    if (!this.of(rule)) this.#wanted.set(rule.id, rule);
    void this.#work();
    return () => this.#wanted.delete(rule.id);
  }

  async #work(): Promise<void> {
    if (this.#isWorking) return;
    this.#isWorking = true;
    for (let next = this.#next(); next; next = this.#next()) {
      const isDone = await this.#ask(next);
      if (!isDone) await new Promise((resolve) => setTimeout(resolve, AGAIN_MS));
    }
    this.#isWorking = false;
  }

  #next(): RuleView | undefined {
    return this.#wanted.values().next().value;
  }

  /** False when it is to be asked again. */
  async #ask(rule: RuleView): Promise<boolean> {
    const keep = (preview: RulePreview | null, fault: string): void => void this.#known.set(rule.id, { key: keyOf(rule), preview, fault });
    try {
      keep(await askPreview(savedEntry(rule)), '');
    } catch (error) {
      if (!(error instanceof ApiFault)) throw error;
      if (error.code === 'TOO_BUSY') return false;
      keep(null, error.message);
    }
    if (this.#wanted.get(rule.id) === rule) this.#wanted.delete(rule.id);
    return true;
  }
}

const keyOf = (rule: RuleView): string => JSON.stringify([rule.entry, rule.levels]);
