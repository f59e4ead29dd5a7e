import type { WatchView } from '../../../../shared/schema/watch-mode.ts';
import { degreesText, type Units } from './quantity.ts';

type Armed = NonNullable<WatchView['armed']>;
export interface WatchedAt {
  readonly label: string;
  readonly text: string;
  /** '' while all is well; else what is wrong, in words. */
  readonly wrong: string;
}

/** The thermometers of an armed watch, each with its value or why there is none, and on which side of the limits it is. */
export function watchedAt({ thermometers }: WatchView, armed: Armed, units: Units): WatchedAt[] {
  return armed.thermometers.map((signal) => {
    const found = thermometers.find((one) => one.signal === signal);
    const label = found?.label ?? signal;
    const value = found?.valueC ?? null;
    const text = value === null ? '–' : degreesText(Math.round(value * 10) / 10, units);
    if (value === null) return { label, text, wrong: 'no value: go and look' };
    if (!found?.fresh) return { label, text, wrong: 'silent, this value is old: go and look' };
    if (value > armed.warmestC) return { label, text, wrong: `warmer than ${degreesText(armed.warmestC, units)}` };
    return { label, text, wrong: value < armed.coldestC ? `colder than ${degreesText(armed.coldestC, units)}` : '' };
  });
}
