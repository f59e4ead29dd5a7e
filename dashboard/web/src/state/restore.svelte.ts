import type { LogLines, RestoreAnswer } from '../../../../shared/schema/rig-book.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';
import { sendFile } from './send-file.ts';

/** What must be typed before anything is replaced. */
export const RESTORE_WORD = 'replace';
const SILENCE = 'The box does not answer. Nothing was replaced, unless it is starting anew now.';

/** `sending`: the file goes to the box; `checking`: it has all of it; `starting`: the box starts anew with it; `back`: it speaks again. */
type Stage = 'choosing' | 'sending' | 'checking' | 'starting' | 'back';

/** Puts a backup in the place of all that the box keeps. */
export class Restore {
  readonly #app: App;
  stage = $state<Stage>('choosing');
  file = $state.raw<File | null>(null);
  typed = $state('');
  sentFrac = $state(0);
  fault = $state('');
  answer = $state.raw<RestoreAnswer | null>(null);
  /** What the box wrote down as an error on the way, such as why everything was put back as it was; '' when nothing. */
  trouble = $state('');
  #errorsBefore: ReadonlySet<string> = new Set();
  #snapshotsBefore = 0;
  #hasGone = false;

  constructor(app: App) {
    this.#app = app;
  }

  readonly mayBegin = $derived(this.file !== null && this.typed.trim().toLowerCase() === RESTORE_WORD && (this.stage === 'choosing' || this.stage === 'back'));

  async begin(): Promise<void> {
    const { file } = this;
    if (!file || !this.mayBegin) return;
    this.fault = '';
    this.answer = null;
    this.trouble = '';
    this.sentFrac = 0;
    this.stage = 'sending';
    this.#errorsBefore = new Set(await errorLines());
    this.#snapshotsBefore = this.#app.live.snapshots;
    try {
      this.answer = await sendFile<RestoreAnswer>('/api/restore', file, SILENCE, {
        onSent: (share) => (this.sentFrac = share),
        onWhole: () => (this.stage = 'checking'),
      });
      this.stage = 'starting';
      this.#hasGone = !this.#app.live.connected;
      this.look(this.#app.live.connected, this.#app.live.snapshots);
      this.typed = '';
    } catch (error) {
      this.fault = (error as Error).message;
      this.stage = 'choosing';
    }
  }

  /** Told of the contact with the box: it is back once it was gone and has spoken anew. */
  look(connected: boolean, snapshots: number): void {
    if (this.stage !== 'starting') return;
    if (!connected) this.#hasGone = true;
    else if (this.#hasGone || snapshots > this.#snapshotsBefore) {
      this.stage = 'back';
      void this.#lookForTrouble();
    }
  }

  async #lookForTrouble(): Promise<void> {
    const errors = await errorLines();
    this.trouble = errors.filter((line) => !this.#errorsBefore.has(line)).join('\n');
  }
}

/** Errors in the log of the program; none where it cannot be had. */
async function errorLines(): Promise<readonly string[]> {
  const lines = await getJson<LogLines>('/api/log-lines?limit=1000').catch((): LogLines => []);
  return lines.filter(({ level }) => level === 'error').map(({ text }) => text);
}
