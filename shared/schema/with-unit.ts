import { z } from 'zod';
import { numberWithUnit, type Quantity, toCanonical, UNIT_OF, unitSymbol } from '../units.ts';

/** A number in the quantity's own unit, or a string with its unit: 24, "75 degF". */
export function quantity(kind: Quantity, min: number, max: number) {
  const unit = UNIT_OF[kind];
  const expected = `a number in ${unit} or a string with its unit, from ${min} to ${max} ${unit}`;
  return z
    .union([z.number(), z.string()], { error: expected })
    .meta({ expected })
    .transform((raw, context) => {
      const parsed = typeof raw === 'number' ? { value: raw, unit: '' } : numberWithUnit(raw);
      const symbol = parsed && (parsed.unit === '' ? unit : unitSymbol(parsed.unit, kind));
      const value = parsed && symbol !== null && symbol !== undefined ? (symbol === unit ? parsed.value : toCanonical(parsed.value, symbol, kind)) : Number.NaN;
      if (!(value >= min && value <= max)) {
        context.addIssue({ code: 'custom', message: expected, input: raw });
        return z.NEVER;
      }
      return value;
    });
}

const DURATION_S: ReadonlyMap<string, number> = new Map([
  ['ms', 1e-3],
  ['s', 1],
  ['min', 60],
  ['h', 3600],
  ['d', 86_400],
]);

/** Seconds as a number, or a string with a unit: 30, "30 s", "5 min", "2 h", "3 d". */
export function duration(minS: number, maxS: number) {
  const expected = `seconds, or a string with ms, s, min, h or d, from ${minS} s to ${maxS} s`;
  return z
    .union([z.number(), z.string()], { error: expected })
    .meta({ expected })
    .transform((raw, context) => {
      const parsed = typeof raw === 'number' ? { value: raw, unit: 's' } : numberWithUnit(raw);
      const seconds = parsed ? parsed.value * (DURATION_S.get(parsed.unit || 's') ?? Number.NaN) : Number.NaN;
      if (!(seconds >= minS && seconds <= maxS)) {
        context.addIssue({ code: 'custom', message: expected, input: raw });
        return z.NEVER;
      }
      return seconds;
    });
}
