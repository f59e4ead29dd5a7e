import type { CompiledSource } from '../mqtt/decode.ts';
import { isListedSaturation } from './known-values.ts';

/** Full scale of common shunt amplifiers over that of a 75 mV shunt: 81.92 mV and 40 mV inputs (makers' data sheets). */
const AMPLIFIER_RATIOS = [81.92 / 75, 40 / 75] as const;
/** Usual ratings of shunts, A. */
const SHUNT_RATINGS_A = [50, 100, 150, 200, 300, 500] as const;
const FULL_SCALES_A: readonly number[] = SHUNT_RATINGS_A.flatMap((rating) => AMPLIFIER_RATIOS.map((ratio) => rating * ratio));

/** So many equal readings in a row at an end are no measurement: a real current always moves in its last digit. */
const RUN = 10;
/** Readings that must have varied before the largest one seen can be taken for an end. */
const VARIED = 30;
/** Topmost count of a 12-bit converter. */
const TOP_COUNT = 4095;
/** Where a 3.3 V converter pin goes flat, V at the pin, and how many readings in a row show it. */
const PIN_V = [3.1, 3.15] as const;
const PIN_RUN = 5;

/** Tells a clipped input: listed in the rig file, a converter's end stop, or a run of equal readings at full scale. */
export class SaturationWatch {
  #last = Number.NaN;
  #equal = 0;
  #varied = 0;
  #largest = 0;
  #finestStep = Number.POSITIVE_INFINITY;
  #pinRun = 0;

  /** Takes every number as the board sends it; true when its input clips. */
  clips(raw: number, compiled: CompiledSource): boolean {
    if (compiled.source.saturatesAt.length > 0 && isListedSaturation(raw, compiled)) return true;
    return this.#atEndStop(raw, compiled) || (compiled.rule.quantity === 'current' && this.#flatAtTheTop(raw, compiled));
  }

  #atEndStop(raw: number, { source, rule }: CompiledSource): boolean {
    if (source.scale === 1 || rule.quantity === 'temperature') return false;
    // Raw counts: the top one, and the bottom one of an input whose zero lies in the middle.
    if (raw === TOP_COUNT || (raw === 0 && source.offset !== 0)) return true;
    this.#pinRun = source.scale > 1 && raw >= PIN_V[0] && raw <= PIN_V[1] ? this.#pinRun + 1 : 0;
    return this.#pinRun >= PIN_RUN;
  }

  #flatAtTheTop(raw: number, { source }: CompiledSource): boolean {
    const size = Math.abs(raw);
    if (raw === this.#last) this.#equal++;
    else {
      if (!Number.isNaN(this.#last)) {
        this.#varied++;
        this.#finestStep = Math.min(this.#finestStep, Math.abs(raw - this.#last));
      }
      this.#last = raw;
      this.#equal = 1;
    }
    this.#largest = Math.max(this.#largest, size);
    if (this.#equal < RUN || raw === 0) return false;
    const amps = size * Math.abs(source.scale) * (source.unit === 'mA' ? 1e-3 : 1);
    // Whole amperes are left to the rule below: a coarse board shows 80 A for minutes and means it.
    if (!Number.isInteger(amps) && FULL_SCALES_A.some((full) => Math.abs(amps - full) <= full * 1e-3)) return true;
    // A coarse board repeats itself honestly: only a finely resolving one is held to move.
    return size === this.#largest && this.#varied >= VARIED && this.#finestStep < size * 0.005;
  }
}
