import type { Help, TonightAdvice } from '../../../../shared/schema/advice.ts';
import { isHeating, outlookText } from './advice.ts';
import { degreesText, pointsText } from './quantity.ts';
import type { Setting } from './verdict.ts';
import { clockTime } from './zone.ts';

/** What would help when the night falls short, the most helpful first; empty when it holds as surely as wanted. */
export function helpTexts({ base, confidence, helps, ladder }: TonightAdvice, setting: Setting): string[] {
  if (base.holdsProbability >= confidence) return [];
  const useful = helps.filter(({ effect }) => effect.gainPct > 0);
  if (useful.length === 0) return ['Draw less, or bring in a charge.'];
  return useful.map((help) => `${deed(help, setting, isHeating(ladder))} ${pointsText(help.effect.gainPct)} more, ${outlookText(help.effect)}.`);
}

function deed({ kind, setpointC, load, fromMs, toMs, cabinPeakC }: Help, { units, zone }: Setting, heats: boolean): string {
  const at = (tMs: number | null) => (tMs === null ? '?' : clockTime(tMs, zone));
  switch (kind) {
    case 'setpoint':
      return `Set ${setpointC === null ? (heats ? 'cooler' : 'warmer') : degreesText(setpointC, units)}:`;
    case 'skip-load':
      return `Leave out ${load ?? 'a planned load'}${fromMs === null ? '' : ` at ${at(fromMs)}`}:`;
    default: {
      const cabin = cabinPeakC === null ? '' : ` (the cabin gets as ${heats ? 'cold' : 'warm'} as ${degreesText(cabinPeakC, units)})`;
      return `Mini-split off from ${at(fromMs)} to ${at(toMs)}${cabin}, never with anyone inside who depends on it:`;
    }
  }
}
