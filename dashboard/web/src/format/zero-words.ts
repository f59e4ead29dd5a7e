import type { ZeroView } from '../../../../shared/schema/sensor-book.ts';

/** What is done by hand before a zero is set, in order. Dawnhold switches nothing. */
export const ZERO_STEPS: Readonly<Record<string, readonly string[]>> = {
  'bank.current': [
    'Switch off the inverter and everything that draws from the bank, also what hangs on the bank’s own wires.',
    'Stop everything that charges: panels by their switch or a cover, alternator, shore power.',
    'Leave the shunt’s board powered. What it draws itself may pass the shunt: some tens of mA are real.',
    'Wait until the value below is steady.',
  ],
  'panels.power': [
    'Wait for the dark, or cover the panels so that no light gets in.',
    'Leave the sensor’s board powered.',
    'Wait until the value below is steady.',
  ],
  'panels.current': [
    'Wait for the dark, or cover the panels so that no light gets in.',
    'Leave the sensor’s board powered.',
    'Wait until the value below is steady.',
  ],
};

const DIGITS: Readonly<Record<string, number>> = { A: 2, W: 1 };

/** A value near zero with all the digits that matter there: "0.42 A", "−3.1 W". */
export function fineText(value: number, unit: string): string {
  const text = value.toFixed(DIGITS[unit] ?? 2);
  return `${text.replace(/^-(0(\.0*)?)$/, '$1').replace('-', '−')} ${unit}`;
}

/** How far the mean and its spread have come, in a sentence. */
export function zeroStand({ readings, mean, spread, isSteady, refused, unit }: ZeroView): string {
  if (refused !== '') return refused;
  if (mean === null || spread === null) return 'Waiting for readings …';
  if (isSteady) return `Steady: ${fineText(mean, unit)} on average, spread ${fineText(spread, unit)}, from ${readings} readings.`;
  return `${fineText(mean, unit)} on average, spread ${fineText(spread, unit)}, from ${readings} readings. Not steady or not long enough yet.`;
}

/** A zero so near that there is nothing to set. */
export const isZeroAlready = ({ mean, unit }: ZeroView): boolean => mean !== null && Math.abs(mean) < 0.5 * 10 ** -(DIGITS[unit] ?? 2);

/** Points of a minute as a path on a grid of 0 to 1 both ways, with the line of nothing; the height holds nothing and all values. */
export interface MinutePicture {
  readonly path: string;
  readonly zeroY: number;
  readonly lowest: number;
  readonly highest: number;
}

export function minutePicture(points: readonly { readonly tMs: number; readonly value: number }[], toMs: number, spanMs: number): MinutePicture | null {
  const seen = points.filter(({ tMs }) => tMs >= toMs - spanMs && tMs <= toMs);
  if (seen.length === 0) return null;
  const values = seen.map(({ value }) => value);
  const lowest = Math.min(0, ...values);
  const highest = Math.max(0, ...values);
  const height = Math.max(highest - lowest, 0.01);
  const y = (value: number) => Math.round((1000 * (highest - value)) / height) / 1000;
  const x = (tMs: number) => Math.round((1000 * (tMs - toMs + spanMs)) / spanMs) / 1000;
  // A single point is drawn as a short line.
  const last = seen.at(-1);
  const path = `M${seen.map(({ tMs, value }) => `${x(tMs)} ${y(value)}`).join('L')}${seen.length === 1 && last ? `l0.004 0` : ''}`;
  return { path, zeroY: y(0), lowest, highest };
}
