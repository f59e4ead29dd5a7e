import { deedText, isHeating, outlookText } from '../../shared/help-text.ts';
import type { Projection } from '../../shared/schema/projection.ts';
import { pointsText } from '../../shared/value-text.ts';
import { clockText } from '../clock.ts';
import type { RigModel } from '../types.ts';

/** A smaller gain is not worth a word, points of state of charge. */
const LEAST_GAIN_PCT = 0.5;

/** What would help against a low point, each with its effect, for the alarm `low-point`: "Set 26°C: 4 points more, lowest 31 %, holds 88 nights in 100." At most six. */
export function helpsOf(projection: Projection | null, rig: Pick<RigModel, 'units' | 'timeZone'>): string[] {
  if (projection?.helps === undefined) return [];
  const setting = { units: rig.units ?? 'metric', heats: isHeating(projection.ladder), clock: (tMs: number) => clockText(rig.timeZone, tMs) };
  const useful = projection.helps.filter(({ effect }) => effect.gainPct >= LEAST_GAIN_PCT);
  if (useful.length === 0) return ['Draw less, or bring in a charge.'];
  return useful.slice(0, 6).map((help) => `${deedText(help, setting)} ${pointsText(help.effect.gainPct)} more, ${outlookText(help.effect)}.`);
}
