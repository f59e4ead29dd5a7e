import type { App } from './app.svelte.ts';
import { STEPS, stepHref, stepOf } from './guide-steps.ts';
import { SettingEdits } from './setting-edits.svelte.ts';
import { withPanel } from './setting-sections.ts';
import { SettingsBook } from './settings-book.svelte.ts';

/** The guide through the first settings. What is typed lives here, so that going back and forth loses nothing. */
export class Guide {
  readonly #app: App;
  readonly book: SettingsBook;
  readonly edits: SettingEdits;
  isBusy = $state(false);
  /** The last step was taken; the rig is told to be set up. */
  isFinished = $state(false);
  fault = $state('');
  #hasBegun = false;

  constructor(app: App) {
    this.#app = app;
    this.book = new SettingsBook(app);
    this.edits = new SettingEdits(this.book);
  }

  /** Index of the step that is shown; their number at the end. */
  get index(): number {
    return this.#app.place.current === 'guide' ? stepOf(this.#app.place.part) : 0;
  }

  /** Takes up the settings as they have been read; a new rig is asked for its panels. */
  follow(): void {
    this.edits.follow();
    const { all } = this.edits;
    if (!all || this.#hasBegun) return;
    this.#hasBegun = true;
    if (this.book.book?.setUp === false && all.panels.form.count === '0') all.panels.form = withPanel(all.panels.form);
  }

  /** Saves what the step asks for, one section after the other, and goes on; resolves with whether all of it is in force. */
  async next(): Promise<boolean> {
    const { all } = this.edits;
    if (this.isBusy || !all) return false;
    this.isBusy = true;
    let isRight = true;
    for (const what of STEPS[this.index]?.saves ?? []) isRight = (await all[what].submit()) && isRight;
    this.isBusy = false;
    if (isRight) this.go(this.index + 1);
    return isRight;
  }

  go(index: number): void {
    this.fault = '';
    location.hash = stepHref(index);
  }

  /** Says that the rig is set up. */
  async finish(): Promise<void> {
    if (this.isBusy) return;
    this.isBusy = true;
    this.fault = this.book.book?.setUp ? '' : await this.book.edit({ what: 'set-up', done: true });
    this.isBusy = false;
    this.isFinished = this.fault === '';
  }

  /** Opens the balance once the rig counts as set up. */
  leaveWhenDone(isSettingUp: boolean): void {
    if (this.isFinished && !isSettingUp) location.hash = '#/balance';
  }
}
