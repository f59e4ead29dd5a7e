import type { RunAdvice } from '../../../../shared/schema/advice.ts';
import { runAgreeing } from '../format/agree.ts';
import { confidenceOf } from '../format/limits.ts';
import { type Preset, presets } from '../format/presets.ts';
import { namelessLoad, type RunQuestion, type RunWords, runWords } from '../format/run.ts';
import { clockTime } from '../format/zone.ts';
import type { AdviceState } from './advice.svelte.ts';
import type { App } from './app.svelte.ts';
import { keepLoad, pastLoads } from './past-loads.ts';
import { type RunFaults, type RunForm, readRun, steppedMinutes, steppedTime, typedFaults, withPreset } from './run-form.ts';

/** A form that stands still for this long is asked about, ms. */
const SETTLE_MS = 500;

/** The answer with the form, its question and the time of the projection that it comes from. */
export interface RunAnswer extends RunWords {
  readonly form: RunForm;
  readonly question: RunQuestion;
  readonly advice: RunAdvice;
  readonly ofClock: string;
}

const EMPTY: RunForm = { watts: '', minutes: '', time: '', peak: '' };

/** A load that is thought about: asked about as it is typed, planned with one touch. */
export class LoadDraft {
  readonly #app: App;
  readonly #advice: AdviceState;
  form = $state.raw<RunForm>(EMPTY);
  /** What it is to be called when it is planned. */
  name = $state('');
  faults = $state.raw<RunFaults>({});
  answer = $state.raw<RunAnswer | null>(null);
  /** Why there is no answer; '' when there is, or nothing was asked. */
  fault = $state('');
  isAsking = $state(false);
  isPlanning = $state(false);
  /** Why it could not be planned; '' when it could, or was not tried. */
  planFault = $state('');
  /** What was planned last, in words; '' when the form was changed since. */
  planned = $state('');
  #past = $state.raw(pastLoads());
  #isBehind = false;
  #timer: ReturnType<typeof setTimeout> | undefined;

  constructor(app: App, advice: AdviceState) {
    this.#app = app;
    this.#advice = advice;
  }

  readonly presets = $derived.by(() => presets(this.#past, this.#app.live.plan ?? [], this.#app.live.flows?.loads ?? []));
  /** What stands in the form as a load, also before it is answered; null while it is none. */
  readonly load = $derived.by(() => {
    const { question } = this.current ?? this.#read();
    return question && { name: this.name.trim(), powerW: question.powerW, startMs: question.startMs, endMs: question.startMs + question.minutes * 60_000 };
  });
  /** The answer, when it is to what stands in the form now. */
  readonly current = $derived.by(() => (this.answer?.form === this.form ? this.answer : null));

  change(part: Partial<RunForm>): void {
    this.form = { ...this.form, ...part };
    this.faults = {};
    this.planned = '';
    this.planFault = '';
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => void this.#ask(), SETTLE_MS);
  }

  choose(preset: Preset): void {
    this.name = preset.name;
    this.change(withPreset(this.form, preset));
  }

  stepTime(direction: 1 | -1): void {
    const { nowMs, zone } = this.#app.live.setting;
    this.change({ time: steppedTime(this.form.time, direction, nowMs, zone) });
  }

  stepMinutes(direction: 1 | -1): void {
    this.change({ minutes: steppedMinutes(this.form.minutes, direction) });
  }

  /** Empties the form and takes its ghost off the curve. */
  clear(): void {
    clearTimeout(this.#timer);
    this.form = EMPTY;
    this.name = '';
    this.faults = {};
    this.answer = null;
    this.fault = '';
    this.planFault = '';
  }

  /** Ends what still waits: the page is left. */
  leave(): void {
    clearTimeout(this.#timer);
  }

  /** Asks what stands in the form now; resolves with the first field that is wrong, null when none is. */
  async submit(): Promise<keyof RunFaults | null> {
    clearTimeout(this.#timer);
    const { question, faults } = this.#read();
    this.faults = faults;
    if (!question) return (Object.keys(faults) as (keyof RunFaults)[])[0] ?? null;
    await this.#ask();
    return null;
  }

  /** Announces the load of the answer; resolves with whether it is planned now. */
  async plan(): Promise<boolean> {
    const { current } = this;
    if (!current || this.isPlanning) return false;
    const { powerW, minutes, startMs, peakW } = current.question;
    const name = this.name.trim() || namelessLoad(powerW);
    this.isPlanning = true;
    this.planFault = await this.#app.command({ kind: 'plan-load', name, powerW, minutes, startMs });
    this.isPlanning = false;
    if (this.planFault !== '') return false;
    if (this.name.trim() !== '') this.#past = keepLoad({ name, powerW, minutes, peakW });
    this.clear();
    this.planned = `Planned: ${name}. The verdict counts it within half a minute.`;
    return true;
  }

  /** There is a new projection: what stands in the form is asked anew. */
  renew(): void {
    if (this.form !== EMPTY && this.#read().question) void this.#ask();
  }

  #read() {
    const { live } = this.#app;
    return readRun(this.form, live.nowMs, live.setting.zone, confidenceOf(live.rig) / 100);
  }

  /** One question at a time; what was changed meanwhile is asked once more. */
  async #ask(): Promise<void> {
    this.#isBehind = true;
    if (this.isAsking) return;
    this.isAsking = true;
    while (this.#isBehind) {
      this.#isBehind = false;
      const { form } = this;
      const { question, faults } = this.#read();
      this.fault = '';
      if (!question) {
        // An answer to something else must not stand beside it.
        this.answer = null;
        this.faults = typedFaults(form, faults);
        continue;
      }
      const { nowMs, zone } = this.#app.live.setting;
      this.fault = await this.#app.read(async () => {
        const answer = await this.#advice.run(question);
        const { projection } = this.#advice;
        const advice = projection ? runAgreeing(answer, projection) : answer;
        this.answer = { form, question, advice, ...runWords(advice, question, nowMs, zone), ofClock: clockTime(advice.tMs, zone) };
      });
    }
    this.isAsking = false;
  }
}
