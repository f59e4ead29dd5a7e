import { deedText } from '../../../../shared/help-text.ts';
import type { TonightAdvice } from '../../../../shared/schema/advice.ts';
import { isHeating, outlookText } from './advice.ts';
import { pointsText } from './quantity.ts';
import type { Setting } from './verdict.ts';
import { clockTime } from './zone.ts';

/** What would help when the night falls short, the most helpful first; empty when it holds as surely as wanted. */
export function helpTexts({ base, confidence, helps, ladder }: TonightAdvice, { units, zone }: Setting): string[] {
  if (base.holdsProbability >= confidence) return [];
  const useful = helps.filter(({ effect }) => effect.gainPct > 0);
  if (useful.length === 0) return ['Draw less, or bring in a charge.'];
  const setting = { units, heats: isHeating(ladder), clock: (tMs: number) => clockTime(tMs, zone) };
  return useful.map((help) => `${deedText(help, setting)} ${pointsText(help.effect.gainPct)} more, ${outlookText(help.effect)}.`);
}
