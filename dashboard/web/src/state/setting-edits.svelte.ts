import { SettingEdit } from './setting-edit.svelte.ts';
import type { SectionSpec } from './setting-sections.ts';
import type { SettingsBook } from './settings-book.svelte.ts';

type What = SectionSpec['what'];

/** The sections of the rig file in the making. They outlive the parts that show them, so that nothing typed is lost by looking elsewhere. */
export class SettingEdits {
  readonly book: SettingsBook;
  #edits = $state.raw<Readonly<Record<What, SettingEdit>> | null>(null);

  constructor(book: SettingsBook) {
    this.book = book;
  }

  /** Takes up the book as it has been read. */
  follow(): void {
    if (!this.book.book) return;
    if (this.#edits) {
      for (const edit of Object.values(this.#edits)) edit.follow();
      return;
    }
    const of = (what: What) => new SettingEdit(this.book, what);
    this.#edits = {
      rig: of('rig'),
      place: of('place'),
      bank: of('bank'),
      inverter: of('inverter'),
      panels: of('panels'),
      minisplit: of('minisplit'),
      broker: of('broker'),
      store: of('store'),
    };
  }

  /** Nothing can be changed on this device, or here. */
  get isFixed(): boolean {
    return this.book.whyFixed !== '';
  }

  /** The sections; null until the book has come. */
  get all(): Readonly<Record<What, SettingEdit>> | null {
    return this.#edits;
  }
}
