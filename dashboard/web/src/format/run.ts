import { chances } from '../../../../shared/help-text.ts';
import type { AdviceQuestion, RunAdvice } from '../../../../shared/schema/advice.ts';
import type { AnnouncedLoad } from '../../../../shared/schema/plan.ts';
import { spanText } from './age.ts';
import { percentText, pointsText, powerText } from './quantity.ts';
import { clockTime, otherDay } from './zone.ts';

export type RunQuestion = Extract<AdviceQuestion, { kind: 'run' }>;

/** An answer in words: what was asked, the verdict, and the figures behind it. */
export interface RunWords {
  readonly asked: string;
  readonly verdict: string;
  readonly details: readonly string[];
}

/** What a load is called that its person gave no name: "the 900 W load". */
export const namelessLoad = (powerW: number): string => `the ${powerText(powerW)} load`;

/** What goes with the name of an announced load: "900 W, 18:30 to 19:20", the day where it is not today, no watts where the name says them. */
export function plannedText({ name, powerW, startMs, endMs }: AnnouncedLoad, nowMs: number, zone: string): string {
  const draws = name === namelessLoad(powerW) ? '' : `${powerText(powerW)}, `;
  return `${draws}${clockTime(startMs, zone)} to ${clockTime(endMs, zone)}${otherDay(startMs, nowMs, zone)}`;
}

/** The answer to "can I run it"; times in `zone`, days in the words of `nowMs`. */
export function runWords(a: RunAdvice, q: RunQuestion, nowMs: number, zone: string): RunWords {
  const peak = q.peakW === null ? '' : ` (${powerText(q.peakW)} as it starts)`;
  return {
    asked: `${powerText(q.powerW)}${peak} for ${spanText(q.minutes * 60_000)} from ${clockTime(q.startMs, zone)}${otherDay(q.startMs, nowMs, zone)}`,
    verdict: verdictText(a),
    details: [costText(a), voltageText(a), inverterText(a)].filter((text) => text !== ''),
  };
}

function verdictText(a: RunAdvice): string {
  if (a.verdict === 'yes') return `Yes: the bank holds ${chances(a.effect.holdsProbability)}.`;
  return `${a.verdict === 'no' ? 'No' : "Can't tell"}: ${a.limits.map((limit) => limitText(limit, a)).join('; ')}.`;
}

function limitText(limit: RunAdvice['limits'][number], a: RunAdvice): string {
  switch (limit) {
    case 'above-rating':
      return `the inverter would carry ${watts(a.inverterW)}, more than the ${watts(a.ratedW)} it is made for`;
    case 'above-surge':
      return `as it starts the inverter would carry ${watts(a.inverterPeakW)}, more than the ${watts(a.surgeW)} it bears`;
    case 'under-cutoff':
      return a.lowestV === null ? 'the bank cannot give so much at once' : 'the voltage would fall so low that the inverter cuts off';
    case 'floor':
      return a.before.holdsProbability <= a.effect.holdsProbability + 0.01
        ? `even without it the floor holds only ${chances(a.before.holdsProbability)}`
        : `with it the floor holds ${chances(a.effect.holdsProbability)}, without it ${chances(a.before.holdsProbability)}`;
    default:
      return 'it lies beyond what is projected';
  }
}

const watts = (powerW: number | null) => (powerW === null ? 'an unknown power' : powerText(powerW));

function costText({ verdict, costPct, before, effect }: RunAdvice): string {
  const costs = `It takes ${pointsText(costPct)} of charge`;
  // Nothing is known of the night that it would lie in.
  if (verdict === 'unknown') return `${costs}.`;
  return `${costs}: lowest ${percentText(effect.lowPoint.p50Pct)} this night, ${percentText(before.lowPoint.p50Pct)} without it.`;
}

function voltageText({ verdict, lowestV, cutoffV }: RunAdvice): string {
  if (verdict === 'unknown' || lowestV === null) return '';
  return `Lowest voltage ${lowestV.toFixed(1)} V, one time in ten lower${cutoffV === null ? '' : `; the inverter cuts off at ${cutoffV.toFixed(1)} V`}.`;
}

function inverterText({ verdict, inverterW, inverterPeakW, ratedW, surgeW }: RunAdvice): string {
  if (verdict === 'unknown' || inverterW === null || ratedW === null) return '';
  const start =
    inverterPeakW === null || surgeW === null || inverterPeakW <= inverterW ? '' : `, ${powerText(inverterPeakW)} of ${powerText(surgeW)} as it starts`;
  return `With all else the inverter carries ${powerText(inverterW)} of ${powerText(ratedW)}${start}.`;
}
