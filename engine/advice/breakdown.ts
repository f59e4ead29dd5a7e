import type { Breakdown } from '../../shared/schema/advice.ts';
import type { Ensemble, Setup } from '../projection/ensemble.ts';
import type { PastDays } from '../projection/inputs.ts';
import { type Case, changed, round } from './case.ts';

type Source = Breakdown['doubt'][number]['source'];

/** Variance under which there is nothing to share out: a tenth of a point. */
const NO_DOUBT = 1e-6;

const NAMES: Readonly<Record<Source, string>> = {
  outside: "tonight's outdoor temperature",
  minisplit: 'how hard the mini-split works for the same weather',
  standing: 'what else is switched on',
  soc: 'the state of charge itself',
  sun: 'the sun',
};

/** Where tonight's energy goes, and what the doubt in its low point comes from: the ensemble run again with each source of doubt taken away. */
export function breakdownOf(base: Case): Breakdown {
  const energyWh = energiesOf(base);
  const doubt = doubtsOf(base);
  return { energyWh, doubt, words: wordsOf(base, energyWh, doubt) };
}

function energiesOf({ setup, ensemble: e, outcome }: Case): Breakdown['energyWh'] {
  const { span, course } = setup;
  const from = Math.max(0, Math.floor((span.nightStartMs - span.startMs) / span.stepMs));
  const to = Math.ceil(((outcome.takeover?.tMs ?? span.sunriseMs ?? span.endMs) - span.startMs) / span.stepMs);
  const wh = (series: Float64Array): number => round((series.subarray(from, Math.max(from, to)).reduce((sum, w) => sum + w, 0) * span.stepMs) / 3_600_000, 0);
  const planned = wh(course.plannedW);
  return { minisplit: wh(e.minisplitW), standing: wh(e.standingW) - planned, planned, inverter: wh(e.inverterW), panels: wh(e.panelsW) };
}

function doubtsOf(base: Case): Breakdown['doubt'] {
  const all = lowVariance(base);
  if (all < NO_DOUBT) return [];
  const shares = Object.entries(withoutEach(base)).map(([source, change]) => ({
    source: source as Source,
    share: Math.max(0, 1 - lowVariance(changed(base, change)) / all),
  }));
  // What two sources only do together is counted with both.
  const sum = Math.max(
    1,
    shares.reduce((total, { share }) => total + share, 0),
  );
  return shares.map(({ source, share }) => ({ source, share: round(share / sum, 2) })).sort((a, b) => b.share - a.share);
}

/** Changes that take one source of doubt each away and leave all other draws as they were. */
function withoutEach({ setup, ensemble }: Case): Partial<Record<Source, Partial<Setup>>> {
  const { snapshot, span, standing, panels } = setup;
  const { learned } = snapshot;
  const fit = learned?.minisplit ?? null;
  const changes: Partial<Record<Source, Partial<Setup>>> = {
    soc: { snapshot: { ...snapshot, socSd: 0 } },
    standing: { standing: hasDays(standing) ? meanDay(standing) : oneDay(new Float64Array(span.steps).fill(setup.guess.standing.medianW)) },
    sun: { panels: hasDays(panels) ? meanDay(panels) : oneDay(indexOf(setup, ensemble)) },
  };
  if (learned && fit) {
    changes.outside = { snapshot: { ...snapshot, learned: { ...learned, outside: { ...learned.outside, sd: 0 } } } };
    changes.minisplit = { snapshot: { ...snapshot, learned: { ...learned, minisplit: { ...fit, levelSd: 0, residualSd: 0 } } } };
  }
  return changes;
}

const hasDays = (days: PastDays | null): days is PastDays => days !== null && days.traces.length > 0;
const oneDay = (trace: Float64Array): PastDays => ({ traces: [trace], weights: [1] });

function meanDay({ traces, weights }: PastDays): PastDays {
  const total = weights.reduce((a, b) => a + b, 0);
  const mean = new Float64Array(traces[0]?.length ?? 0);
  traces.forEach((trace, i) => {
    for (let k = 0; k < mean.length; k++) mean[k] = (mean[k] as number) + ((trace[k] as number) * (weights[i] as number)) / total;
  });
  return oneDay(mean);
}

/** The mean share of clear-sky power that the members were given. */
function indexOf({ course }: Setup, { panelsW }: Ensemble): Float64Array {
  return panelsW.map((w, k) => ((course.clearW[k] as number) > 0 ? w / (course.clearW[k] as number) : 0));
}

/** Variance of the members' low points. */
function lowVariance({ setup: { span, members }, ensemble: { soc, steps } }: Case): number {
  const first = Math.max(0, Math.ceil((span.nightStartMs - span.startMs) / span.stepMs));
  let sum = 0;
  let squares = 0;
  for (let m = 0; m < members; m++) {
    let low = 1;
    for (let k = first; k <= steps; k++) low = Math.min(low, soc[k * members + m] as number);
    sum += low;
    squares += low * low;
  }
  const mean = sum / members;
  return squares / members - mean * mean;
}

function wordsOf({ setup }: Case, wh: Breakdown['energyWh'], doubt: Breakdown['doubt']): string {
  const heats = setup.snapshot.learned?.minisplit?.heats ?? false;
  const kWh = (value: number): string => `${(value / 1000).toFixed(1)} kWh`;
  const parts = [
    wh.minisplit >= 50 ? `${heats ? 'heating' : 'cooling'} ${kWh(wh.minisplit)}` : '',
    wh.standing >= 50 ? `standing ${kWh(wh.standing)}` : '',
    wh.planned >= 50 ? `planned ${kWh(wh.planned)}` : '',
    wh.inverter >= 50 ? `inverter ${kWh(wh.inverter)}` : '',
  ].filter((part) => part !== '');
  const energy = parts.length > 0 ? parts.join(', ') : 'hardly anything is drawn';
  const main = doubt[0];
  const much = main && shareWords(main.share);
  if (!main || !much) return energy;
  const isNight = setup.span.nightStartMs <= setup.span.startMs;
  return `${energy}; ${much} of the doubt is ${main.source === 'sun' && isNight ? "the morning's sun" : NAMES[main.source]}`;
}

function shareWords(share: number): string | null {
  if (share >= 0.85) return 'nearly all';
  if (share >= 0.6) return 'most';
  if (share >= 0.42) return 'half';
  if (share >= 0.29) return 'a third';
  return share >= 0.2 ? 'a quarter' : null;
}
