import type { Alarm } from '../../../../shared/schema/alarm.ts';
import { TONES, type Tone, toneFor } from './priority.ts';

/** What the browser says: `blocked` until a touch or a key has allowed sound. */
export type SoundPermission = 'allowed' | 'blocked' | 'unsupported';

const BEEP_S = 0.16;

/** The alarm's sound on this device. */
export class Sound {
  permission = $state<SoundPermission>(typeof AudioContext === 'undefined' ? 'unsupported' : 'blocked');
  #context: AudioContext | null = null;
  #timer: ReturnType<typeof setInterval> | null = null;
  #tone: Tone | null = null;

  constructor() {
    if (this.permission === 'unsupported') return;
    this.#context = new AudioContext();
    this.#context.onstatechange = () => this.#readPermission();
    this.#readPermission();
    const first = () => void this.allow();
    for (const event of ['pointerdown', 'keydown']) window.addEventListener(event, first, { once: true });
  }

  /** Asks the browser for sound; must run inside a touch, click or key. */
  async allow(): Promise<void> {
    await this.#context?.resume();
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

  #readPermission(): void {
    this.permission = this.#context?.state === 'running' ? 'allowed' : 'blocked';
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
