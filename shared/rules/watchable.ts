import { CATALOGUE } from '../quantities.ts';
import { signalKind } from '../signals.ts';
import { type Quantity, UNIT_OF } from '../units.ts';

/** What a rule may refer to in one rig file. */
export interface RuleContext {
  /** Mapped signals by name; null for one with a mistake, of which nothing more can be said. */
  readonly signals: ReadonlyMap<string, SignalFacts | null>;
  /** Names of the routes. */
  readonly routes: readonly string[];
  /** Ids of entries that have mistakes of their own. */
  readonly otherIds?: readonly string[];
}

export interface SignalFacts {
  readonly quantity: Quantity;
  readonly label: string;
  /** Lowest and highest value, in the unit kept. */
  readonly range: readonly [number, number];
  /** How often it is sent, s. */
  readonly everyS: number;
}

/** Something that can be watched, with all that checks of limits need. */
export interface Watchable {
  readonly label: string;
  readonly unit: string;
  readonly quantity: Quantity | null;
  readonly isDifference: boolean;
  readonly range: readonly [number, number];
  readonly deadband: number;
  /** Null for what is no signal. */
  readonly everyS: number | null;
  /** Signals that it needs and that are not mapped. */
  readonly missing: readonly string[];
  readonly wordsOnly: boolean;
}

/** Deadbands where neither a rule nor its limit names one, in the unit kept: about what a good sensor wavers by. */
const DEADBANDS: Readonly<Record<Quantity, number>> = {
  voltage: 0.05,
  current: 1,
  power: 20,
  temperature: 0.5,
  humidity: 2,
  stateOfCharge: 1,
  latitude: 0,
  longitude: 0,
  heading: 0,
  irradiance: 20,
  flag: 0,
  mode: 0,
};

/** Null for an unknown name; `unsure` for a signal that has a mistake of its own. */
export function watchableOf(name: string, context: RuleContext): Watchable | 'unsure' | null {
  const mapped = context.signals.get(name);
  if (mapped === null) return 'unsure';
  if (mapped) return signalWatchable(mapped, []);
  const known = signalKind(name);
  if (known) return signalWatchable({ ...known, everyS: 10 }, [name]);
  const defined = CATALOGUE.get(name);
  if (!defined) return null;
  return {
    label: defined.label,
    unit: defined.unit,
    quantity: defined.quantity ?? null,
    isDifference: defined.difference ?? false,
    range: defined.range,
    deadband: defined.deadband ?? 0,
    everyS: null,
    missing: (defined.needs ?? []).filter((signal) => !context.signals.has(signal)),
    wordsOnly: defined.wordsOnly ?? false,
  };
}

const signalWatchable = ({ quantity, label, range, everyS }: SignalFacts, missing: readonly string[]): Watchable => ({
  label,
  unit: UNIT_OF[quantity],
  quantity,
  isDifference: false,
  range,
  deadband: DEADBANDS[quantity],
  everyS,
  missing,
  wordsOnly: false,
});

/** All names that a rule of this rig could watch, for hints. */
export const watchableNames = (context: RuleContext): readonly string[] => [
  ...context.signals.keys(),
  ...[...CATALOGUE].flatMap(([name, { wordsOnly }]) => (wordsOnly ? [] : name)),
];
