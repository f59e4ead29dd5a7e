import type { Advice, AdviceQuestion, RunAdvice, TonightAdvice } from '../../shared/schema/advice.ts';
import { EVENING_MS, H, projection, quantiles, SUNRISE_MS } from './web-scenario-parts.ts';

const LOW_MS = Date.UTC(2026, 10, 25, 8, 35);
const ahead = (lowPct: number, holdsProbability: number, nightsOn = 0) => ({ lowPoint: quantiles(LOW_MS + nightsOn * 24 * H, lowPct, 4), holdsProbability });
const effect = (lowPct: number, gainPct: number, holdsProbability: number, nightsOn = 0) => ({ ...ahead(lowPct, holdsProbability, nightsOn), gainPct });

/** The quiet evening: 24 degrees hold, and so would 21. */
export function tonightAdvice(tMs: number = EVENING_MS): TonightAdvice {
  const { ladder } = projection(EVENING_MS, 95.8, 37.6, 'holds');
  return {
    kind: 'tonight',
    tMs,
    confidence: 0.9,
    base: ahead(58, 0.97),
    ladder,
    setpoint: { setpointC: 21, rung: ladder.find((rung) => rung.setpointC === 21) ?? null, nowHolds: true },
    schedule: null,
    surplus: {
      fromMs: SUNRISE_MS + 5 * H,
      toMs: SUNRISE_MS + 8 * H,
      surplusWh: 1940,
      usedWh: 620,
      setpointC: 21.5,
      effect: effect(60, 5.2, 0.98, 1),
    },
    twoNights: { first: ahead(58, 0.97), secondUsual: ahead(55, 0.95, 1), secondCloudy: ahead(31, 0.4, 1), cloudyIndex: 0.25 },
    darkPanels: { hoursP10: 21.4, hoursP50: 26.2, pastTakeoverH: 11.7, horizonH: 42 },
    helps: [
      { kind: 'setpoint', setpointC: 26, load: null, fromMs: null, toMs: null, cabinPeakC: null, effect: effect(69, 11, 0.99) },
      { kind: 'skip-load', setpointC: null, load: 'cooker', fromMs: EVENING_MS + H, toMs: EVENING_MS + 2 * H, cabinPeakC: null, effect: effect(62, 4, 0.98) },
      {
        kind: 'off-hours',
        setpointC: null,
        load: null,
        fromMs: Date.UTC(2026, 10, 25, 4),
        toMs: Date.UTC(2026, 10, 25, 6),
        cabinPeakC: 27.4,
        effect: effect(61.3, 3.3, 0.98),
      },
    ],
    breakdown: {
      energyWh: { minisplit: 2740, standing: 1190, planned: 0, inverter: 440, panels: 120 },
      doubt: [
        { source: 'outside', share: 0.52 },
        { source: 'standing', share: 0.23 },
        { source: 'soc', share: 0.03 },
      ],
      words: "cooling 2.7 kWh, standing 1.2 kWh, inverter 0.4 kWh; half of the doubt is tonight's outdoor temperature",
    },
  };
}

/** A cooker that the bank and the inverter bear. */
export const runAdvice = (tMs: number = EVENING_MS): RunAdvice => ({
  kind: 'run',
  tMs,
  verdict: 'yes',
  limits: [],
  costPct: 10.9,
  before: ahead(58, 0.97),
  effect: effect(47, -11, 0.94),
  inverterW: 1320,
  inverterPeakW: 1320,
  ratedW: 2000,
  surgeW: 4000,
  lowestV: 25.42,
  cutoffV: 22,
});

/** What the box answers. */
export const answerOf = (question: AdviceQuestion, tMs: number): Advice => (question.kind === 'run' ? runAdvice(tMs) : tonightAdvice(tMs));
