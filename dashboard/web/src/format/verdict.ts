import type { BankView } from '../../../../shared/schema/flows.ts';
import type { Projection, Rung } from '../../../../shared/schema/projection.ts';
import { energyText, percentText, temperatureText, type Units } from './quantity.ts';
import { clockTime } from './zone.ts';

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

/** A rung is advised only when it holds this often. */
const ADVISED_PROBABILITY = 0.9;

const plain = (text: string): Piece => ({ text, tone: 'plain' });
const figure = (text: string): Piece => ({ text, tone: 'figure' });
const fault = (text: string): Piece => ({ text, tone: 'fault' });

const lowerFirst = (text: string) => (/^[A-Z][a-z]/.test(text) ? text.charAt(0).toLowerCase() + text.slice(1) : text).replace(/\.$/, '');

/** The verdict sentence, the range sentence under it, and what to do about it; the setpoint now in force in degrees Celsius, or null. */
export function verdict(projection: Projection | null, bank: BankView | null, setpointC: number | null, zone: string, units: Units): Verdict {
  if (!projection) {
    const because = bank === null || bank.socPct === null ? 'no state of charge yet' : 'the first projection is being made';
    return { kind: 'none', pieces: [plain(`Can't tell yet: ${because}.`)], range: bank?.remarks[0] ?? '', advice: '' };
  }
  return {
    kind: projection.verdict,
    pieces: sentence(projection, zone),
    range: projection.verdict === 'unknown' ? (projection.doubts[1] ?? '') : rangeSentence(projection),
    advice: advice(projection, setpointC, units),
  };
}

function sentence(p: Projection, zone: string): Piece[] {
  const lowest = [figure(percentText(p.lowPoint.p50Pct)), plain(` at ${clockTime(p.lowPoint.tMs, zone)}`)];
  switch (p.verdict) {
    case 'unknown':
      return [plain(`Can't tell: ${lowerFirst(p.doubts[0] ?? 'the readings it needs are missing')}.`)];
    case 'falls-short':
      return p.belowFloorMs === null
        ? [fault('Falls short'), plain(': lowest '), ...lowest, plain('.')]
        : [fault(`Falls short at ${clockTime(p.belowFloorMs, zone)}`), plain(': lowest '), ...lowest, plain('.')];
    case 'tight':
      return [...opening(p), ...lowest, plain(': '), fault('tight'), plain('.')];
    case 'learning':
      return [plain(`Learning: ${Math.min(p.nights, LEARNING_NIGHTS)} of ${LEARNING_NIGHTS} nights. Lowest about `), ...lowest, plain('.')];
    default:
      return [...opening(p), ...lowest, plain(': the bank holds.')];
  }
}

const opening = (p: Projection): Piece[] => (p.sunrise ? [figure(percentText(p.sunrise.p50Pct)), plain(' at sunrise, lowest ')] : [plain('Lowest ')]);

function rangeSentence(p: Projection): string {
  const low = Math.round(p.lowPoint.p10Pct);
  const high = Math.round(p.lowPoint.p90Pct);
  const range = low === high ? `Eight nights in ten it comes to ${low} %.` : `Eight nights in ten the low point lies between ${low} and ${high} %.`;
  const floor = `Floor ${percentText(p.floorPct)}`;
  return `${range} ${p.marginWh >= 0 ? `${floor}: margin ${energyText(p.marginWh)}.` : `${floor}: ${energyText(-p.marginWh)} short.`}`;
}

/** What to do when it does not hold: the nearest setpoint that does, else less load. */
function advice(p: Projection, setpointC: number | null, units: Units): string {
  if (p.verdict !== 'falls-short' && p.verdict !== 'tight') return '';
  const rung = nearestThatHolds(p.ladder, setpointC);
  if (rung && setpointC !== null && Math.abs(rung.setpointC - setpointC) < 0.25) return '';
  if (rung) return `Set ${temperatureText(rung.setpointC, units, 0)} and it holds ${chances(rung.holdsProbability)}.`;
  return p.ladder.length > 0 ? 'No setpoint holds for sure: switch the mini-split off, or bring in a charge.' : 'Draw less, or bring in a charge.';
}

function nearestThatHolds(ladder: readonly Rung[], setpointC: number | null): Rung | null {
  const holding = ladder.filter((rung) => rung.holdsProbability >= ADVISED_PROBABILITY);
  const from = setpointC ?? holding[0]?.setpointC ?? 0;
  return holding.reduce<Rung | null>((best, rung) => (best === null || Math.abs(rung.setpointC - from) < Math.abs(best.setpointC - from) ? rung : best), null);
}

/** A probability as people count: "7 nights in 10", "97 in 100"; never "100 in 100". */
export function chances(probability: number): string {
  const hundredth = Math.round(probability * 100);
  if (hundredth >= 100) return 'more than 99 nights in 100';
  if (hundredth <= 0) return 'fewer than 1 night in 100';
  return hundredth % 10 === 0 ? `${hundredth / 10} nights in 10` : `${hundredth} nights in 100`;
}

/** The sentence as one text. */
export const plainText = (pieces: readonly Piece[]): string => pieces.map((piece) => piece.text).join('');
