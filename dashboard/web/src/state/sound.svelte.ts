import type { SoundPermission } from '../../../../shared/live-version.ts';
import type { Alarm } from '../../../../shared/schema/alarm.ts';
import { TONES, type Tone, toneFor } from './priority.ts';

const BEEP_S = 0.16;
/** What a browser takes as a person's leave to sound. A finger's `pointerdown` is not among them: it may become a scroll. */
const LEAVE = ['pointerup', 'click', 'keydown'];

/** The alarm's sound on this device. */
export class Sound {
  permission = $state<SoundPermission>(typeof AudioContext === 'undefined' ? 'unsupported' : 'blocked');
  #context: AudioContext | null = null;
  #timer: ReturnType<typeof setInterval> | null = null;
  #tone: Tone | null = null;
  readonly #ask = () => void this.allow();

  constructor() {
    if (this.permission === 'unsupported') return;
    this.#context = new AudioContext();
    this.#context.onstatechange = () => this.#readPermission();
    this.#readPermission();
  }

  /** Asks the browser for sound; must run inside a touch, click or key. */
  async allow(): Promise<void> {
    // A context that a call interrupts refuses; the next touch asks again.
    await this.#context?.resume().catch(() => undefined);
    this.#readPermission();
  }

  /** Sounds one round, for the person to know what it is like. */
  async tryOut(): Promise<void> {
    await this.allow();
    this.#play(TONES.high);
  }

  /** Keeps the tone that the alarms ask for going; silent when they ask for none. */
  follow(alarms: readonly Alarm[]): void {
    const tone = toneFor(alarms);
    if (tone === this.#tone) return;
    if (this.#timer !== null) clearInterval(this.#timer);
    this.#tone = tone;
    this.#timer = tone && setInterval(() => this.#play(tone), tone.everyMs);
    this.#play(tone);
  }

  /** Takes over the context's state; while it does not run, each touch or key asks again, since not each one is enough for the browser. */
  #readPermission(): void {
    if (!this.#context) return;
    const isRunning = this.#context.state === 'running';
    this.permission = isRunning ? 'allowed' : 'blocked';
    for (const event of LEAVE) {
      if (isRunning) window.removeEventListener(event, this.#ask);
      else window.addEventListener(event, this.#ask);
    }
  }

  #play(tone: Tone | null): void {
    const context = this.#context;
    if (!tone || context?.state !== 'running') return;
    for (let beep = 0; beep < tone.beeps; beep++) {
      const startS = context.currentTime + beep * BEEP_S * 1.6;
      const gain = new GainNode(context, { gain: 0 });
      const oscillator = new OscillatorNode(context, { type: 'triangle', frequency: tone.pitchHz });
      gain.gain.setValueAtTime(0, startS);
      gain.gain.linearRampToValueAtTime(0.5, startS + 0.01);
      gain.gain.linearRampToValueAtTime(0, startS + BEEP_S);
      oscillator.connect(gain).connect(context.destination);
      oscillator.start(startS);
      oscillator.stop(startS + BEEP_S);
    }
  }
}
