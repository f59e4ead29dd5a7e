import type { DayRow, LedgerPlace, PanelLoss } from '../../../../shared/schema/ledger.ts';
import type { NightRow } from '../../../../shared/schema/projection.ts';
import type { TrackRecord } from '../charts/track-record.ts';
import type { When } from './night-words.ts';
import { energyText, pointsText } from './quantity.ts';
import { dateText } from './zone.ts';

/** A loss under this is not worth a word, Wh. */
const LEAST_LOSS_WH = 100;

/** A charge under this is not worth a word either, Wh. */
const LEAST_CHARGE_WH = 100;
/** A night or day seen for less than this share has gaps. */
const FULL_COVERAGE = 0.9;

/** Each kind of loss as something that the panels' energy went to. */
const LOSS: Readonly<Record<PanelLoss['kind'], string>> = {
  'full-bank': 'a full bank',
  horizon: 'the horizon',
  'shade-like': 'shade',
  cloud: 'cloud',
  dirt: 'dirt',
  unknown: 'causes not known',
};

/** Losses of a day that are worth a word, the greatest first. */
const told = ({ panelLosses = [] }: DayRow): readonly PanelLoss[] => panelLosses.filter(({ lostWh }) => lostWh >= LEAST_LOSS_WH);

/** "Lost: 4.7 kWh to cloud, 0.9 kWh to a full bank"; '' when nothing was judged or lost. */
function lossText(row: DayRow): string {
  const losses = told(row).map(({ kind, lostWh }) => `${energyText(lostWh)} to ${LOSS[kind]}`);
  return losses.length === 0 ? '' : `Lost: ${losses.join(', ')}`;
}

/** What there is to say of a day beside its figures: its losses, and gaps; '' when there is nothing. */
export function dayRemark(row: DayRow): string {
  return [lossText(row), row.coverage < FULL_COVERAGE ? 'with gaps' : ''].filter((remark) => remark !== '').join('; ');
}

/** What speaks for each kind of loss in the rows, of the first row that has it; `[kind in words, evidence]`. */
export function evidenceOf(rows: readonly DayRow[]): (readonly [string, string])[] {
  const first = new Map<string, string>();
  for (const row of rows) for (const { kind, evidence } of told(row)) if (!first.has(LOSS[kind])) first.set(LOSS[kind], evidence);
  return [...first];
}

/** What a night's row knows beside its figures: a charge from elsewhere, and whether it is learned from; '' when there is nothing to say. */
export function remarkText({ unexplainedChargeWh, chargersWh = 0, learnedFrom, coverage }: NightRow): string {
  const remarks = [
    chargersWh >= LEAST_CHARGE_WH ? `${energyText(chargersWh)} from other chargers` : '',
    unexplainedChargeWh >= LEAST_CHARGE_WH ? `${energyText(unexplainedChargeWh)} came in from no known source` : '',
    learnedFrom ? '' : `${coverage < FULL_COVERAGE ? 'gaps: ' : ''}kept out of learning`,
  ];
  return remarks.filter((remark) => remark !== '').join('; ');
}

/** All that was drawn, Wh; null when the loads are not known. What is not there takes nothing. */
export const loadsWh = ({ minisplitWh, standingWh, inverterWh }: DayRow): number | null =>
  standingWh === null ? null : standingWh + (minisplitWh ?? 0) + (inverterWh ?? 0);

/** Where a rig stood: "39.60° N, 8.10° W". */
export function placeText(place: LedgerPlace | null): string {
  if (!place) return 'place not known';
  const side = (deg: number, [plus, minus]: readonly [string, string]) => `${Math.abs(deg).toFixed(2)}° ${deg < 0 ? minus : plus}`;
  return `${side(place.latitudeDeg, ['N', 'S'])}, ${side(place.longitudeDeg, ['E', 'W'])}`;
}

/** "5 Nov" to "25 Nov" of two night names, one when they are the same. */
export function spanOfNights(fromNightId: string, toNightId: string): string {
  const short = (id: string) => dateText(id).replace(/^\w+ /, '');
  return fromNightId === toNightId ? short(fromNightId) : `${short(fromNightId)} to ${short(toNightId)}`;
}

/** To which side what was said leaned: "What was said was on average 1.5 points too low."; less than half a point is none. */
export const leanText = (biasPct: number | null): string =>
  biasPct === null || Math.abs(biasPct) < 0.5
    ? 'What was said leans to neither side.'
    : `What was said was on average ${pointsText(biasPct)} too ${biasPct > 0 ? 'low' : 'high'}.`;

/** How what was said at a moment did: "Said at sunset, and what came: off by 1.9 points on average, inside the range 25 nights of 30."; '' without nights. */
export const recordText = ({ meanErrorPct, inside, nights }: Pick<TrackRecord, 'meanErrorPct' | 'inside' | 'nights'>, when: When): string =>
  meanErrorPct === null
    ? ''
    : `Said at ${when}, and what came: off by ${meanErrorPct.toFixed(1)} points on average, inside the range ${inside} nights of ${nights.length}.`;
