import type { RigFile } from '../../shared/schema/rig-file.ts';
import { type Channel, freshnessOf, type Part } from './channel.ts';
import { restedV } from './flat.ts';
import type { ChargeSource, SignWatch } from './sign.ts';

/** Readings at most this far apart belong together, ms. */
const TOGETHER_MS = 2000;
/** Power that plainly flows, and what counts as a charger at work, W; for a current of panels, A. */
const FLOWS_W = 100;
const CHARGES_W = 20;
const CHARGES_A = 0.5;

/** Checks the bank's current against everything else that is measured. */
export class BankWatch {
  readonly sign: SignWatch;
  readonly #current: Channel | undefined;
  readonly #voltage: Channel | undefined;
  readonly #powers: readonly Channel[];
  readonly #chargers: readonly Channel[];
  readonly #restedV: number;
  readonly #capacityAh: number;
  #pairedMs = Number.NEGATIVE_INFINITY;

  constructor(file: RigFile, channels: ReadonlyMap<string, Channel>, sign: SignWatch) {
    this.sign = sign;
    this.#current = channels.get('bank.current');
    this.#voltage = channels.get('bank.voltage');
    this.#powers = [...channels.values()].filter((channel) => channel.quantity === 'power');
    this.#chargers = [...channels.values()].filter(({ name }) => name === 'panels.power' || name === 'panels.current' || /^charge\..+\.power$/.test(name));
    this.#restedV = restedV(file.bank);
    this.#capacityAh = file.bank.capacityAh;
  }

  /** Takes a part's current, A; true when it is a dead zero. */
  isFlat(part: Part, currentA: number, tMs: number): boolean {
    if (part.flat === null) return false;
    if (currentA !== 0) return part.flat.take(currentA, tMs, null, this.#restedV, false);
    const voltage = this.#voltage;
    const voltageV = voltage !== undefined && freshnessOf(voltage, tMs) === 'fresh' ? voltage.value : null;
    const flows = this.#powers.some((channel) => freshnessOf(channel, tMs) === 'fresh' && Math.abs(channel.value ?? 0) >= FLOWS_W);
    return part.flat.take(currentA, tMs, voltageV, this.#restedV, flows);
  }

  /** After a message: feeds the sign watch when current and voltage of about one time are in. */
  pair(): void {
    const current = this.#current;
    const voltage = this.#voltage;
    if (current?.value == null || voltage?.value == null || current.tMs === null || voltage.tMs === null) return;
    if (current.tMs <= this.#pairedMs || Math.abs(current.tMs - voltage.tMs) > TOGETHER_MS) return;
    this.#pairedMs = current.tMs;
    this.sign.take(current.value, voltage.value, current.tMs, this.#capacityAh, this.#chargeSource(current.tMs));
  }

  #chargeSource(tMs: number): ChargeSource {
    let measured = false;
    for (const channel of this.#chargers) {
      if (freshnessOf(channel, tMs) !== 'fresh') continue;
      if ((channel.value ?? 0) > (channel.quantity === 'current' ? CHARGES_A : CHARGES_W)) return 'some';
      measured ||= channel.name.startsWith('panels.');
    }
    return measured ? 'none' : 'unknown';
  }
}
