import type { RigView } from '../../../../shared/schema/live.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { contactOf, type LastContact } from '../format/contact.ts';

const KEY = 'dawnhold.last-contact';
/** Written at most this often, ms. */
const NOTE_EVERY_MS = 20_000;

function noteContact(contact: LastContact): void {
  try {
    localStorage.setItem(KEY, JSON.stringify(contact));
  } catch {
    // A browser that keeps nothing cannot say since when; the page still says that there is no contact.
  }
}

/** Keeps the time of the last contact current while there is one. */
export class ContactNote {
  #notedMs = Number.NEGATIVE_INFINITY;

  /**
   * @param nowMs the rig's time
   * @param silentMs real ms since the box was last heard
   */
  keep(rig: RigView, nowMs: EpochMs, silentMs: number): void {
    if (Math.abs(Date.now() - this.#notedMs) < NOTE_EVERY_MS) return;
    this.#notedMs = Date.now();
    noteContact({ atMs: nowMs - silentMs * rig.pace, heardMs: this.#notedMs - silentMs, rigName: rig.name, timeZone: rig.timeZone });
  }
}

export function lastContact(): LastContact | null {
  try {
    return contactOf(localStorage.getItem(KEY));
  } catch {
    return null;
  }
}
