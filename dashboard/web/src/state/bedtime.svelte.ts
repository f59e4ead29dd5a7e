import type { AlarmBook } from '../../../../shared/schema/alarm-book.ts';
import { bedtimeText, eveningOf } from '../format/reach.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';

/** When nobody has set quiet hours, bed is taken to be at this time. */
const USUAL_BED = '22:00';
const SPOKEN = 'dawnhold.spoken-evening';

/** In the hour before bed: whether somebody could be called from afar, shown on every place and spoken once an evening. */
export class Bedtime {
  readonly #app: App;
  #quietFrom = $state<string | null>(null);
  #isFetching = false;

  constructor(app: App) {
    this.#app = app;
  }

  readonly #at = $derived.by(() => ({ nowMs: this.#app.live.nowMs, zone: this.#app.live.rig?.timeZone ?? 'UTC' }));
  readonly #fault = $derived.by(() => (this.#app.live.reach ? bedtimeText(this.#app.live.reach, this.#at) : ''));
  /** Which evening it is; null outside the hour before bed. */
  readonly evening = $derived.by(() => (this.#quietFrom === null ? null : eveningOf(this.#quietFrom, this.#at)));
  /** What is wrong before bed; '' when nothing is, or it is not that hour. */
  readonly text = $derived.by(() => (this.evening === null ? '' : this.#fault));

  /** Whether the quiet hours have to be known now. */
  get wantsHours(): boolean {
    return this.#fault !== '' && this.#quietFrom === null;
  }

  /** Asks the box when the quiet hours begin; a failure is made good with the next fault of reach. */
  async fetchHours(): Promise<void> {
    if (this.#isFetching) return;
    this.#isFetching = true;
    await this.#app.read(async () => {
      const { callOut, briefings } = await getJson<AlarmBook>('/api/alarm-book');
      this.#quietFrom = callOut.quietHours?.[0] ?? briefings.bedtime ?? USUAL_BED;
    });
    this.#isFetching = false;
  }

  /** Speaks it where the browser can and may, once an evening on this device. */
  speak(): void {
    if (this.text === '' || this.evening === null || this.#app.sound.permission !== 'allowed' || typeof speechSynthesis === 'undefined') return;
    const evening = String(this.evening);
    try {
      if (localStorage.getItem(SPOKEN) === evening) return;
      localStorage.setItem(SPOKEN, evening);
    } catch {
      // A browser that keeps nothing would speak again and again.
      return;
    }
    const speech = new SpeechSynthesisUtterance(this.text);
    speech.lang = 'en';
    speechSynthesis.speak(speech);
  }
}
