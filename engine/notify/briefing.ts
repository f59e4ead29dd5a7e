import type { TonightAdvice } from '../../shared/schema/advice.ts';
import type { NightRow, Projection } from '../../shared/schema/projection.ts';
import { clockText, weekdayText } from '../clock.ts';

type Units = 'metric' | 'us';

export interface Briefing {
  readonly title: string;
  readonly text: string;
}

export interface BedtimeInputs {
  readonly projection: Projection | null;
  readonly advice: TonightAdvice | null;
  /** The setpoint in force, deg C; null when it is not known, or there is no mini-split. */
  readonly setpointC: number | null;
  /** Doubts about the state of charge, in words. */
  readonly remarks: readonly string[];
  /** What is to be known of the reach of alarms; '' when nothing. */
  readonly reachWords: string;
  readonly units: Units;
  readonly timeZone: string;
}

const TITLES: Readonly<Record<Projection['verdict'], string>> = {
  holds: 'Tonight the bank holds',
  tight: 'Tonight it is tight',
  'falls-short': 'Tonight the bank falls short',
  learning: 'Tonight, as far as it has learned',
  unknown: 'Tonight cannot be told',
};
/** A message is read half asleep. */
const MOST_DOUBTS = 3;

/** What to know before going to bed: the verdict with its range, the setpoint that holds, whether alarms get out, what is doubtful. */
export function bedtimeText(inputs: BedtimeInputs): Briefing {
  const { projection, remarks, reachWords } = inputs;
  const doubts = [...new Set([...(projection?.doubts ?? []), ...remarks])].slice(0, MOST_DOUBTS).map(sentence);
  const title = projection ? TITLES[projection.verdict] : TITLES.unknown;
  const text = [outlook(inputs), setpoint(inputs), reachWords, ...doubts].filter((part) => part !== '').join(' ');
  return { title, text };
}

const sentence = (text: string): string => `${text.charAt(0).toUpperCase()}${text.slice(1).replace(/\.$/, '')}.`;
const percent = (pct: number): string => `${Math.round(pct)} %`;
const range = (lowPct: number, highPct: number): string =>
  Math.round(lowPct) === Math.round(highPct) ? percent(lowPct) : `${Math.round(lowPct)} to ${percent(highPct)}`;

function outlook({ projection, timeZone }: BedtimeInputs): string {
  if (!projection) return 'Nothing has been projected yet.';
  const { verdict, lowPoint, belowFloorMs, floorPct, nightStartMs, tMs } = projection;
  if (verdict === 'unknown') return 'Whether the bank holds is not known.';
  const at = (ms: number): string => `${nightStartMs > tMs ? `${weekdayText(timeZone, ms)} ` : ''}${clockText(timeZone, ms)}`;
  const under = verdict === 'falls-short' && belowFloorMs !== null ? `Under the floor at about ${at(belowFloorMs)}. ` : '';
  const spread = `eight nights in ten ${range(lowPoint.p10Pct, lowPoint.p90Pct)}`;
  return `${under}Lowest ${percent(lowPoint.p50Pct)} at ${at(lowPoint.tMs)}, ${spread}; floor ${percent(floorPct)}.`;
}

function setpoint({ advice, setpointC, units }: BedtimeInputs): string {
  const advised = advice?.setpoint;
  if (!advice || !advised) return '';
  const sure = `${Math.round(100 * advice.confidence)} nights in 100`;
  if (!advised.rung) return `No setpoint holds the floor ${sure}.`;
  const text = degrees(advised.rung.setpointC, units);
  if (setpointC !== null && Math.abs(advised.rung.setpointC - setpointC) < 0.25) return `The setpoint of ${text} holds, and none beyond it.`;
  const most = `${text} is the ${isHeating(advice) ? 'warmest' : 'coolest'} setpoint that holds at least ${sure}`;
  if (setpointC === null) return `${most}.`;
  return `${most}; ${degrees(setpointC, units)}, set now, ${advised.nowHolds ? 'holds too' : 'does not'}.`;
}

/** A warmer setpoint takes more. */
function isHeating({ ladder }: TonightAdvice): boolean {
  const byWarmth = [...ladder].sort((a, b) => a.setpointC - b.setpointC);
  return (byWarmth.at(-1)?.minisplitWh ?? 0) > (byWarmth[0]?.minisplitWh ?? 0);
}

function degrees(tempC: number, units: Units): string {
  const value = units === 'us' ? Math.round(tempC * 1.8 + 32) : Math.round(10 * tempC) / 10;
  return `${String(value).replace('-', '−')}°${units === 'us' ? 'F' : 'C'}`;
}

const energy = (wh: number): string => (wh < 99.5 ? `${Math.round(wh)} Wh` : `${(wh / 1000).toFixed(1)} kWh`);

/** What the night cost, and how its low point came against what had been said at bedtime, else at sunset. */
export function morningText(night: NightRow, timeZone: string): Briefing {
  const low = `Lowest ${percent(night.lowPointPct)} at ${clockText(timeZone, night.lowPointMs)}`;
  return {
    title: `The night cost the bank ${energy(night.bankOutWh)}`,
    text: [`${low}${against(night)}.`, cost(night), surplus(night), gap(night)].filter((part) => part !== '').join(' '),
  };
}

function against({ lowPointPct, projectedAtBedtime, projectedAtSunset }: NightRow): string {
  const [said, when] = projectedAtBedtime ? [projectedAtBedtime, 'at bedtime'] : [projectedAtSunset, 'at sunset'];
  if (!said) return '; nothing had been said';
  const { p10Pct, p50Pct, p90Pct } = said.lowPoint;
  // As it is read: whole percent.
  const [came, low, high] = [lowPointPct, p10Pct, p90Pct].map(Math.round) as [number, number, number];
  const where = came < low ? 'under the range' : came > high ? 'above the range' : 'within the range';
  return `; ${when} ${percent(p50Pct)} was said, and it came ${where} of ${range(p10Pct, p90Pct)}`;
}

function cost({ minisplitWh, minisplitEstimated, bankOutWh, standingWh, inverterWh }: NightRow): string {
  if (minisplitWh === null) return '';
  const rest = standingWh === null ? Math.max(0, bankOutWh - minisplitWh) : standingWh + (inverterWh ?? 0);
  return `Mini-split ${minisplitEstimated ? 'about ' : ''}${energy(minisplitWh)}, all else ${energy(rest)}.`;
}

const surplus = ({ surplusWh = 0 }: NightRow): string => (surplusWh < 50 ? '' : `Since sunrise about ${energy(surplusWh)} of sun went unused.`);

const gap = ({ coverage }: NightRow): string => (coverage >= 0.95 ? '' : `Readings are missing for ${Math.round(100 * (1 - coverage))} % of the night.`);
