import { chances } from '../../../../shared/help-text.ts';
import type { BankView } from '../../../../shared/schema/flows.ts';
import type { Projection, Rung } from '../../../../shared/schema/projection.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { degreesText, energyText, percentText, type Units } from './quantity.ts';
import { clockTime, otherDay } from './zone.ts';

/** A piece of a sentence; `figure` is set in the bank's colour, `fault` in the floor's. */
export interface Piece {
  readonly text: string;
  readonly tone: 'plain' | 'figure' | 'fault';
}

/** The answer in words. `kind` is the engine's verdict, or `none` while it has not spoken. */
export interface Verdict {
  readonly kind: Projection['verdict'] | 'none';
  readonly pieces: readonly Piece[];
  readonly range: string;
  readonly advice: string;
}

/** Nights that must be learned from before the engine stops saying that it learns. */
export const LEARNING_NIGHTS = 5;

/** How often a night must hold where the box does not say what the owner wants. */
export const ADVISED_PROBABILITY = 0.9;

const plain = (text: string): Piece => ({ text, tone: 'plain' });
const figure = (text: string): Piece => ({ text, tone: 'figure' });
const fault = (text: string): Piece => ({ text, tone: 'fault' });

const lowerFirst = (text: string) => (/^[A-Z][a-z]/.test(text) ? text.charAt(0).toLowerCase() + text.slice(1) : text).replace(/\.$/, '');

/** "Learning: 2 of 5 nights. ", '' once enough has been learned: whatever is said until then is rough. */
export const learningText = ({ nights }: Projection): string => (nights < LEARNING_NIGHTS ? `Learning: ${nights} of ${LEARNING_NIGHTS} nights. ` : '');

/**
 * What the words depend on beside the projection: the rig's time, its zone and units, the setpoint in force in degrees Celsius, null when it is not known, and how sure
 * the owner wants to be that the floor holds, 0 to 1; nine nights in ten when that is not said.
 */
export interface Setting {
  readonly nowMs: EpochMs;
  readonly zone: string;
  readonly units: Units;
  readonly setpointC: number | null;
  readonly confidence?: number;
}

/** The verdict sentence, the range sentence under it, and what to do about it. */
export function verdict(projection: Projection | null, bank: BankView | null, setting: Setting): Verdict {
  if (!projection) {
    const because = bank === null || bank.socPct === null ? 'no state of charge yet' : 'the first projection is being made';
    return { kind: 'none', pieces: [plain(`Can't tell yet: ${because}.`)], range: bank?.remarks[0] ?? '', advice: '' };
  }
  return {
    kind: projection.verdict,
    pieces: sentence(projection, setting.nowMs, setting.zone),
    range: projection.verdict === 'unknown' ? (projection.doubts[1] ?? '') : rangeSentence(projection, setting.confidence),
    advice: advice(projection, setting),
  };
}

/** Beyond this a time of day alone could be that of two days, ms. */
const FAR_MS = 24 * 3_600_000;

/** "08:35", with the day in the words of now when it is another one and the night is still to come, or it is far off; in the night itself nobody asks which morning. */
export function whenText(tMs: EpochMs, p: Projection, nowMs: EpochMs, zone: string): string {
  return `${clockTime(tMs, zone)}${p.nightStartMs > nowMs || tMs - nowMs > FAR_MS ? otherDay(tMs, nowMs, zone) : ''}`;
}

function sentence(p: Projection, nowMs: EpochMs, zone: string): Piece[] {
  const when = (tMs: EpochMs) => whenText(tMs, p, nowMs, zone);
  const lowest = [figure(percentText(p.lowPoint.p50Pct)), plain(` at ${when(p.lowPoint.tMs)}`)];
  // What was at sunrise is measured, and behind: the low point is what matters then.
  const opening = p.sunrise && p.sunrise.tMs > nowMs ? [figure(percentText(p.sunrise.p50Pct)), plain(' at sunrise, lowest ')] : [plain('Lowest ')];
  switch (p.verdict) {
    case 'unknown':
      return [plain(`Can't tell: ${lowerFirst(p.doubts[0] ?? 'the readings it needs are missing')}.`)];
    case 'falls-short':
      return [fault(shortText(p.belowFloorMs, nowMs, when)), plain(': lowest '), ...lowest, plain('.')];
    case 'tight':
      return [...opening, ...lowest, plain(': '), fault('tight'), plain('.')];
    case 'learning':
      return [plain(`${learningText(p)}Lowest about `), ...lowest, ...(p.marginWh < 0 ? [plain(', '), fault('under the floor')] : []), plain('.')];
    default:
      return [...opening, ...lowest, plain(': the bank holds.')];
  }
}

function shortText(belowMs: EpochMs | null, nowMs: EpochMs, when: (tMs: EpochMs) => string): string {
  if (belowMs === null) return 'Falls short';
  return belowMs <= nowMs ? 'Under the floor now' : `Falls short at ${when(belowMs)}`;
}

function rangeSentence(p: Projection, confidence = ADVISED_PROBABILITY): string {
  const low = Math.round(p.lowPoint.p10Pct);
  const high = Math.round(p.lowPoint.p90Pct);
  const range = low === high ? `Eight nights in ten it comes to ${low} %.` : `Eight nights in ten the low point lies between ${low} and ${high} %.`;
  const learning = p.verdict === 'learning' ? '' : learningText(p);
  const wanted = p.verdict === 'tight' ? `It holds ${chances(1 - p.belowFloorProbability)}; you want ${chances(confidence)}. ` : '';
  const floor = `Floor ${percentText(p.floorPct)}`;
  return `${learning}${wanted}${range} ${p.marginWh >= 0 ? `${floor}: margin ${energyText(p.marginWh)}, half of the nights less.` : `${floor}: ${energyText(-p.marginWh)} short, half of the nights more.`}`;
}

/** What to do when it does not hold: the nearest setpoint that does, else less load. */
function advice(p: Projection, { setpointC, units, confidence = ADVISED_PROBABILITY }: Setting): string {
  if (p.verdict !== 'falls-short' && p.verdict !== 'tight') return '';
  const rung = nearestThatHolds(p.ladder, setpointC, confidence);
  if (rung && setpointC !== null && Math.abs(rung.setpointC - setpointC) < 0.25) return '';
  if (rung) return `Set ${degreesText(rung.setpointC, units)} and it holds ${chances(rung.holdsProbability)}.`;
  return p.ladder.length > 0 ? 'No setpoint holds for sure: draw less, or bring in a charge.' : 'Draw less, or bring in a charge.';
}

function nearestThatHolds(ladder: readonly Rung[], setpointC: number | null, confidence: number): Rung | null {
  const holding = ladder.filter((rung) => rung.holdsProbability >= confidence);
  const from = setpointC ?? holding[0]?.setpointC ?? 0;
  return holding.reduce<Rung | null>((best, rung) => (best === null || Math.abs(rung.setpointC - from) < Math.abs(best.setpointC - from) ? rung : best), null);
}

/** The sentence as one text. */
export const plainText = (pieces: readonly Piece[]): string => pieces.map((piece) => piece.text).join('');
