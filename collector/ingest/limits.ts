import type { RigFile } from '../../shared/schema/rig-file.ts';
import { PHYSICAL, signalKind } from '../../shared/signals.ts';
import { fromCanonical, type Quantity, UNIT_OF } from '../../shared/units.ts';
import type { CompiledSource } from '../mqtt/decode.ts';

/** How far a sensor at the end of its scale may overshoot, in the unit kept: such a value is taken as the end. */
const OVERSHOOT: Partial<Record<Quantity, number>> = { humidity: 2, stateOfCharge: 2 };

/** No cell shows more, charger and all, V; under load none is used at less. */
const CELL_TOP_V = 4.5;
const CELL_LOW_V = 2.5;
/** More times its capacity in an hour no bank gives or takes even for moments; once its capacity not for long. */
const MOST_C = 3;
const LONG_C = 1;
/** The least that the limits of a bank's current are set to, A. */
const LEAST_A = 100;
/** What an inverter may briefly take as a share of its rating where the file does not say, and for long, with what runs past it, W. */
const SURGE_FRAC = 2;
const OVERLOAD_FRAC = 1.5;
const BESIDE_W = 1500;
/** Taken for an inverter that the file does not name, W: a true current that is not believed does more harm than a wrong one that is. */
const UNSAID_W = 2000;

/** What the bank of a rig file can show: the range of its voltage, V, and the most of its current, A, for moments and for longer than a minute. */
export interface BankLimits {
  readonly voltageV: readonly [number, number];
  readonly mostA: number;
  readonly longA: number;
}

export function bankLimitsOf({ bank, inverter }: Pick<RigFile, 'bank' | 'inverter'>): BankLimits {
  const lowV = CELL_LOW_V * bank.cells;
  const ratedW = inverter?.ratedWatts ?? UNSAID_W;
  const surgeW = inverter?.surgeWatts ?? SURGE_FRAC * ratedW;
  const largest = signalKind('bank.current')?.range[1] ?? Number.POSITIVE_INFINITY;
  return {
    voltageV: [0, CELL_TOP_V * bank.cells],
    mostA: Math.min(largest, Math.max(LEAST_A, MOST_C * bank.capacityAh, (surgeW + BESIDE_W) / lowV)),
    longA: Math.min(largest, Math.max(LEAST_A, LONG_C * bank.capacityAh, (OVERLOAD_FRAC * ratedW + BESIDE_W) / lowV)),
  };
}

/** The gates of one source: `board` on what the board sends (after scale and offset, before the unit is converted), `kept` in the unit kept. */
export interface Limits {
  readonly board: readonly [number, number];
  readonly kept: readonly [number, number];
  /** How far beyond `kept` a value is still taken, as the end; 0 with a range of the rig file's. */
  readonly overshoot: number;
}

/** The range of a signal where its source has none: what the bank and its inverter set, else what its name says, else physical. */
function rangeOf(name: string, quantity: Quantity, bank: BankLimits): readonly [number, number] {
  if (name === 'bank.voltage') return bank.voltageV;
  if (name === 'bank.current') return [-bank.mostA, bank.mostA];
  return signalKind(name)?.range ?? PHYSICAL[quantity];
}

/** Physical limits in the unit the board speaks, and the range of the signal: the rig file's, else what is known of it. */
export function limitsOf(name: string, compiled: CompiledSource, bank: BankLimits): Limits {
  const { quantity, unit } = compiled.rule;
  const overshoot = compiled.source.range ? 0 : (OVERSHOOT[quantity] ?? 0);
  const physical = [PHYSICAL[quantity][0] - overshoot, PHYSICAL[quantity][1] + overshoot] as const;
  const kept = compiled.source.range ?? rangeOf(name, quantity, bank);
  const converts = unit !== '?' && unit !== UNIT_OF[quantity];
  const ends = converts ? ([fromCanonical(physical[0], unit, quantity), fromCanonical(physical[1], unit, quantity)] as const) : physical;
  // A flipped sign flips the ends.
  return { board: compiled.sign === 1 ? ends : [-ends[1], -ends[0]], kept, overshoot };
}

/** True when a decoded value passes both gates. A SenML record may name a unit of its own, so for it only the second gate applies. */
export function withinLimits(raw: number, value: number, compiled: CompiledSource, limits: Limits): boolean {
  const { source, rule } = compiled;
  if (value < limits.kept[0] - limits.overshoot || value > limits.kept[1] + limits.overshoot) return false;
  if (rule.quantity === 'flag' || rule.quantity === 'mode' || source.format === 'senml') return true;
  const sent = raw * source.scale + source.offset;
  return sent >= limits.board[0] && sent <= limits.board[1];
}

/** A value that passed the gates, without its overshoot. */
export const clamped = (value: number, { kept, overshoot }: Limits): number => (overshoot === 0 ? value : Math.min(kept[1], Math.max(kept[0], value)));
