import { namelessLoad, type RunQuestion, type RunWords, runWords } from '../format/run.ts';
import { clockTime } from '../format/zone.ts';
import type { AdviceState } from './advice.svelte.ts';
import type { App } from './app.svelte.ts';
import { type RunFaults, type RunForm, readRun } from './run-form.ts';

/** The answer with the time of the projection that it comes from. */
export interface RunAnswer extends RunWords {
  readonly question: RunQuestion;
  readonly ofClock: string;
}

/** The small form "can I run it" with its last answer. */
export class RunState {
  readonly #app: App;
  readonly #advice: AdviceState;
  form = $state<{ -readonly [K in keyof RunForm]: RunForm[K] }>({ watts: '', minutes: '', start: 'now', time: '', peak: '' });
  faults = $state.raw<RunFaults>({});
  answer = $state.raw<RunAnswer | null>(null);
  /** Why there is no answer; '' when there is, or nothing was asked. */
  fault = $state('');
  isAsking = $state(false);
  /** What the load of the answer is to be called when it is planned. */
  name = $state('');
  planned = $state<'not' | 'sending' | 'done'>('not');
  /** Why it could not be planned; '' when it could, or was not tried. */
  planFault = $state('');

  constructor(app: App, advice: AdviceState) {
    this.#app = app;
    this.#advice = advice;
  }

  /** Asks what stands in the form; resolves with the first field that is wrong, null when none is. */
  async submit(): Promise<keyof RunFaults | null> {
    if (this.isAsking) return null;
    const { nowMs, zone } = this.#app.live.setting;
    const { question, faults } = readRun(this.form, nowMs, zone);
    this.faults = faults;
    if (!question) return (Object.keys(faults) as (keyof RunFaults)[])[0] ?? null;
    this.isAsking = true;
    this.answer = null;
    this.fault = '';
    this.planned = 'not';
    this.planFault = '';
    try {
      this.fault = await this.#app.read(async () => {
        const advice = await this.#advice.run(question);
        this.answer = { question, ...runWords(advice, question, nowMs, zone), ofClock: clockTime(advice.tMs, zone) };
      });
    } finally {
      this.isAsking = false;
    }
    return null;
  }

  /** Announces the load of the answer; resolves with whether it is planned now. */
  async plan(): Promise<boolean> {
    if (!this.answer || this.planned !== 'not') return false;
    const { powerW, minutes, startMs } = this.answer.question;
    this.planned = 'sending';
    this.planFault = await this.#app.command({ kind: 'plan-load', name: this.name.trim() || namelessLoad(powerW), powerW, minutes, startMs });
    const isDone = this.planFault === '';
    this.planned = isDone ? 'done' : 'not';
    if (isDone) this.name = '';
    return isDone;
  }
}
