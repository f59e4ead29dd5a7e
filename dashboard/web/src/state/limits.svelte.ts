import { OneAtATime } from '../../../../shared/one-at-a-time.ts';
import type { RigBook, RigChange } from '../../../../shared/schema/rig-book.ts';
import { confidenceOf, type Limits as Wanted } from '../format/limits.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';

/** A value that stands still for this long is saved, ms: a hand that goes on turning saves once. */
const SETTLE_MS = 900;
/** What was saved is shown in the place of the old value until the box tells it, at most this long, ms. */
const TOLD_MS = 15_000;

export type LimitKind = keyof Wanted;
/** What a hand can choose, percent: as much as a projection can tell apart, and as the rig file takes. */
export const LIMIT_SPAN = { floorPct: [0, 95], confidencePct: [50, 99] } as const;

const changeOf = (kind: LimitKind, value: number): RigChange =>
  kind === 'floorPct' ? { what: 'floor', floorPct: value } : { what: 'confidence', confidencePct: value };

/** The owner's floor and confidence: shown at once as they are turned, saved in the rig file when the hand rests, and taken back with one touch. */
export class LimitsState {
  readonly #app: App;
  readonly #turns = new OneAtATime();
  #tried = $state.raw<Partial<Wanted>>({});
  /** What was in force before the last change that was saved; null: nothing to take back. */
  before = $state.raw<{ readonly kind: LimitKind; readonly value: number } | null>(null);
  isSaving = $state(false);
  /** Why the last change was not saved; '' when it was. */
  fault = $state('');
  #timers: { [K in LimitKind]?: ReturnType<typeof setTimeout> | undefined } = {};

  constructor(app: App) {
    this.#app = app;
  }

  readonly inForce = $derived.by<Wanted>(() => {
    const { rig } = this.#app.live;
    return { floorPct: rig?.floorPct ?? 0, confidencePct: confidenceOf(rig) };
  });
  readonly wanted = $derived.by<Wanted>(() => ({ ...this.inForce, ...this.#tried }));
  /** A floor that is not in force yet; null: none is tried. */
  readonly triedFloorPct = $derived.by(() => (this.wanted.floorPct === this.inForce.floorPct ? null : this.wanted.floorPct));

  /** A hand turns it; it is saved when the hand rests. */
  turn(kind: LimitKind, value: number): void {
    const [least, most] = LIMIT_SPAN[kind];
    this.#tried = { ...this.#tried, [kind]: Math.min(most, Math.max(least, Math.round(value))) };
    this.fault = '';
    clearTimeout(this.#timers[kind]);
    this.#timers[kind] = setTimeout(() => void this.#save(kind), SETTLE_MS);
  }

  /** Puts back what was in force before the last change. */
  undo(): void {
    if (!this.before) return;
    const { kind, value } = this.before;
    this.turn(kind, value);
    clearTimeout(this.#timers[kind]);
    void this.#save(kind, true);
  }

  /** Saves at once what still waits: the page is left. */
  leave(): void {
    for (const kind of ['floorPct', 'confidencePct'] as const) {
      if (this.#timers[kind] === undefined) continue;
      clearTimeout(this.#timers[kind]);
      void this.#save(kind);
    }
  }

  async #save(kind: LimitKind, isUndo = false): Promise<void> {
    this.#timers[kind] = undefined;
    const value = this.wanted[kind];
    const was = this.inForce[kind];
    if (value === was) return this.#forget(kind, value);
    this.isSaving = true;
    this.fault = await this.#write(changeOf(kind, value));
    this.isSaving = false;
    if (this.fault !== '') return this.#forget(kind, value);
    this.before = isUndo ? null : { kind, value: was };
    this.#timers[kind] ??= setTimeout(() => this.#forget(kind, value), TOLD_MS);
  }

  /** Nothing else was turned meanwhile: what is in force stands again. */
  #forget(kind: LimitKind, value: number): void {
    this.#timers[kind] = undefined;
    if (this.wanted[kind] !== value) return;
    const { [kind]: _forgotten, ...rest } = this.#tried;
    this.#tried = rest;
  }

  /** Resolves with why it was refused, '' when it is in force. One edit after the other: each needs the file as the one before it left it. */
  #write(change: RigChange): Promise<string> {
    return this.#turns.take(async () => {
      let book: Pick<RigBook, 'hash' | 'whyFixed'> = { hash: null, whyFixed: '' };
      const fault = await this.#app.read(async () => {
        book = await getJson<RigBook>('/api/rig-book');
      });
      if (fault !== '') return fault;
      return book.hash === null ? book.whyFixed : this.#app.command({ kind: 'edit-rig', hash: book.hash, change });
    });
  }
}
