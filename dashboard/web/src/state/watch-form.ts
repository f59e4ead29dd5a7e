import type { WatchOrder } from '../../../../shared/schema/watch-mode.ts';
import { readTyped, typedNumber } from '../format/limit.ts';
import { degreeUnit, type Units } from '../format/quantity.ts';
import { nextClockTime } from '../format/zone.ts';
import type { Faults } from './rule-entry.ts';

/** What stands in the form, as typed; temperatures in the rig's units, the time by the rig's clock. */
export interface WatchForm {
  thermometers: string[];
  warmest: string;
  coldest: string;
  until: string;
  near: string;
  understood: boolean;
}

export const watchForm = (units: Units): WatchForm => ({
  thermometers: [],
  warmest: typedNumber(28, 'Cel', units),
  coldest: typedNumber(15, 'Cel', units),
  until: '',
  near: '',
  understood: false,
});

/** Bounds of the limits, deg C. */
const WARMEST_C = [15, 45] as const;
const COLDEST_C = [-10, 25] as const;

/** The order that the form means; null while something in it is wrong, which `faults` says by field. The box may still refuse it. */
export function readWatch(form: WatchForm, nowMs: number, zone: string, units: Units): { order: WatchOrder | null; faults: Faults } {
  const faults: Record<string, string> = {};
  const degrees = (field: 'warmest' | 'coldest', [least, most]: readonly [number, number]) => {
    const value = readTyped(form[field], 'Cel', units);
    if (value === null || value < least || value > most) {
      faults[field] = `Enter degrees ${degreeUnit(units)} from ${typedNumber(least, 'Cel', units)} to ${typedNumber(most, 'Cel', units)}.`;
    }
    return value ?? 0;
  };
  if (form.thermometers.length < 2) faults.thermometers = 'Choose two at least, one on the floor where they are: one alone can be fooled.';
  const warmestC = degrees('warmest', WARMEST_C);
  const coldestC = degrees('coldest', COLDEST_C);
  if (!faults.warmest && !faults.coldest && coldestC >= warmestC) faults.coldest = 'Enter less than the warmest.';
  const untilMs = nextClockTime(form.until, nowMs, zone);
  if (untilMs === null) faults.until = 'Enter when you mean to be back, as hours and minutes.';
  if (form.near.trim().length < 3) faults.near = 'Name somebody close by who can open the door, and how to reach them.';
  if (!form.understood) faults.understood = 'Read what this is not, and say so here.';
  if (untilMs === null || Object.keys(faults).length > 0) return { order: null, faults };
  return { order: { thermometers: [...form.thermometers], warmestC, coldestC, untilMs: Math.ceil(untilMs), near: form.near.trim(), understood: true }, faults };
}
