import { isZeroable } from '../../collector/ingest/recent-values.ts';
import type { ZeroFacts } from '../../collector/ingest/zero-facts.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { ZeroView } from '../../shared/schema/sensor-book.ts';

/** So many readings, over so much of the time asked for, make a mean. */
const ENOUGH_READINGS = 5;
const ENOUGH_SPAN = 0.6;
/** A zero is off by less than this share of the bank's capacity per hour, or this many A: more is a load or a charger. */
const CURRENT_C = 0.01;
const CURRENT_A = 2;
/** Steady is a spread within a tenth of that. */
const STEADY_SHARE = 0.1;
/** A panel sensor's zero is off by less than this share of the panels, or this many W; by day only what is tiny can be no sun. */
const POWER_SHARE = 0.02;
const POWER_W = 10;
const TINY_SHARE = 0.005;
const TINY_W = 4;

/** Sun as it is known: null where the place is not. */
export type IsNight = boolean | null;

interface Bounds {
  /** The largest mean that can be a zero error, the spread that counts as steady, and what is tiny even by day; in the unit kept. */
  readonly most: number;
  readonly steady: number;
  readonly tiny: number;
}

function boundsOf(signal: string, { bank, panels }: RigFile): Bounds {
  const ratedW = panels.reduce((sum, { watts }) => sum + watts, 0);
  const mostW = Math.max(POWER_W, POWER_SHARE * ratedW);
  if (signal === 'panels.power') return { most: mostW, steady: mostW * STEADY_SHARE, tiny: Math.max(TINY_W, TINY_SHARE * ratedW) };
  const mostA = Math.max(CURRENT_A, CURRENT_C * bank.capacityAh);
  return { most: mostA, steady: mostA * STEADY_SHARE, tiny: mostA * STEADY_SHARE };
}

/** Why a signal's zero cannot be set now, in a sentence; '' when it can, as far as more readings do not show otherwise. */
function refusalOf(signal: string, facts: ZeroFacts, file: RigFile, isNight: IsNight, { most, tiny }: Bounds): string {
  const spec = file.signals.specs.get(signal);
  if (facts.isSum) return 'It is the sum of several topics; the zero of each is set in the rig file.';
  if (spec === undefined || !isZeroable(signal, spec)) return 'Only the bank current and the panels have a zero that can be found here.';
  if (facts.freshness !== 'fresh') return 'It is silent. Its zero can be found when its messages come again.';
  if (facts.doubt !== null) return 'Its value is not to be believed now; mend that first.';
  if (facts.mean === null) return '';
  if (Math.abs(facts.mean) > most)
    return signal === 'bank.current'
      ? 'Too much flows for a zero: something still draws or charges.'
      : 'Too much comes for a zero: the panels still see light.';
  if (signal !== 'bank.current' && isNight !== true && Math.abs(facts.mean) > tiny)
    return 'The sun may be up, and this may be sun. Cover the panels, or do it by night.';
  return facts.nextOffset === null ? 'The unit of its messages changes; name its unit in the mapping first.' : '';
}

/** What a signal that should read nothing has read, and whether that can be set as its zero. */
export function zeroView(signal: string, seconds: number, facts: ZeroFacts, file: RigFile, isNight: IsNight): ZeroView {
  const bounds = boundsOf(signal, file);
  const refused = refusalOf(signal, facts, file, isNight, bounds);
  const isSteady =
    facts.readings >= ENOUGH_READINGS && facts.spanMs >= ENOUGH_SPAN * seconds * 1000 && (facts.spread ?? Number.POSITIVE_INFINITY) <= bounds.steady;
  const { unit, readings, mean, spread, offset } = facts;
  return { signal, unit, readings, mean, spread, isSteady, offset, nextOffset: isSteady && refused === '' ? facts.nextOffset : null, refused };
}
