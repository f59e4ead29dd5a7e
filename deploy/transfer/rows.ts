import { type RigFile, signalQuantity } from '../../shared/schema/rig-file.ts';
import { isSignalName, PHYSICAL, signalKind } from '../../shared/signals.ts';
import { type EpochMs, UNIT_OF } from '../../shared/units.ts';

/** Readings of one signal on their way out, oldest first. */
export interface Page {
  readonly signal: string;
  /** The unit they are kept in; '' for a number without one, and where nobody knows. */
  readonly unit: string;
  readonly tMs: readonly number[];
  readonly value: readonly number[];
  readonly suspect: readonly boolean[];
}

/** What a file says of one reading; null where it says nothing. */
export interface Row {
  readonly tMs: number;
  readonly rig: string | null;
  readonly signal: string;
  readonly value: number;
  readonly unit: string | null;
  readonly suspect: boolean;
}

/** Columns of a CSV or Parquet file. `time`, `signal` and `value` must be there. */
export const COLUMNS = ['time', 'rig', 'signal', 'value', 'unit', 'quality'] as const;

/** What may be kept under a signal's name: its unit and range; null where neither the name nor the rig file says. */
export function kindOf(file: RigFile, name: string): { readonly unit: string; readonly range: readonly [number, number] } | null {
  const spec = file.signals.specs.get(name);
  const known = signalKind(name);
  const quantity = known?.quantity ?? (spec && signalQuantity(name, spec));
  if (!quantity || !isSignalName(name)) return null;
  return { unit: UNIT_OF[quantity], range: known?.range ?? PHYSICAL[quantity] };
}

/** Earliest and latest time that a reading may have, epoch ms: as for the lines of a recording. */
const EARLIEST_MS = Date.UTC(2000, 0, 1);
const LATEST_MS = Date.UTC(2200, 0, 1);

/** A reading of times to come would be taken for the newest; the clock that took it may be ahead of this one, or in another zone. */
const AHEAD_MS = 86_400_000;

/** Why a time cannot be that of something measured; null: it can. */
export function toCome(tMs: EpochMs, nowMs: EpochMs): string | null {
  if (tMs <= nowMs + AHEAD_MS) return null;
  return `got ${iso(tMs)}, which is not over yet; expected one before ${iso(nowMs + AHEAD_MS)}, a day from now`;
}
const iso = (tMs: EpochMs): string => new Date(tMs).toISOString();

/** Says for rows of a file why each does not fit this rig; null: it does. */
export function createRowCheck(file: RigFile, nowMs: EpochMs): (row: Row) => string | null {
  const kinds = new Map<string, ReturnType<typeof kindOf>>();
  const rigId = file.rig.id;
  return ({ tMs, rig, signal, value, unit }) => {
    if (rig !== null && rig !== rigId) return `rig: got ${short(rig)}, expected ${rigId}, the rig of this rig file`;
    let kind = kinds.get(signal);
    if (kind === undefined) {
      kind = kindOf(file, signal);
      // Names come from the file: one that repeats none must not fill the memory.
      if (kinds.size < 1000) kinds.set(signal, kind);
    }
    if (kind === null) return `signal: got ${short(signal)}, expected one that the rig file names`;
    if (!Number.isSafeInteger(tMs) || tMs < EARLIEST_MS || tMs > LATEST_MS) return 'time: expected a moment between the years 2000 and 2200';
    const early = toCome(tMs, nowMs);
    if (early !== null) return `time: ${early}`;
    if (unit !== null && unit !== kind.unit) return `unit: got ${short(unit)}, expected ${kind.unit === '' ? 'none' : kind.unit}, in which ${signal} is kept`;
    const [least, most] = kind.range;
    if (!(value >= least && value <= most)) return `value: got ${value}, expected ${least} to ${most}${kind.unit === '' ? '' : ` ${kind.unit}`} for ${signal}`;
    return null;
  };
}

/** A piece of a file as it may stand in a message. */
export const short = (text: string): string => JSON.stringify(text.length > 60 ? `${text.slice(0, 59)}…` : text);
