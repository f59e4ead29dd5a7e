import { degreesText, differenceText, energyText, listText, powerText } from '../../shared/value-text.ts';
import { chemistryOf } from '../bank/chemistry.ts';
import { chargeBlocked } from '../bank/cold.ts';
import { askedOf, awayK, worseningKPerH } from './cabin.ts';
import { lowPointTexts } from './low-point.ts';
import { type Seen, signalText } from './seen.ts';
import { watchChange, watchThermometers } from './watch.ts';

const DAY_MS = 86_400_000;
/** Under this outside temperature a bank whose own is not measured may be too cold to be charged, deg C. */
const COLD_OUTSIDE_C = 5;
/** Slower than this the cabin stands still, K/h. */
const STILL_KPH = 0.5;

const unitsOf = ({ rig }: Seen) => rig.units ?? 'metric';
const degrees = (seen: Seen, tempC: number): string => degreesText(tempC, unitsOf(seen));

function refusalText(seen: Seen): string {
  const tempC = seen.value('bank.temperature');
  if (tempC !== null && chargeBlocked(chemistryOf(seen.rig), tempC)) return `it is at ${degrees(seen, tempC)}, so charging is probably blocked by cold`;
  if (seen.value('bank.chargeAllowed') === 0) return 'its own board allows no charging';
  const outsideC = seen.value('outside.temperature');
  if (tempC === null && outsideC !== null && outsideC < COLD_OUTSIDE_C) return 'it may be too cold for it, or its board has switched charging off';
  return 'its board may have switched charging off, or the charger is set too low or has a fault';
}

function lastFullText({ state, tMs }: Seen): string {
  const { anchoredMs } = state.bank;
  if (anchoredMs === null) return `none seen in ${daysText(tMs - state.sinceMs)}`;
  return `${daysText(tMs - anchoredMs)} ago`;
}

const daysText = (spanMs: number): string => {
  const days = Math.round(spanMs / DAY_MS);
  return `${days} ${days === 1 ? 'day' : 'days'}`;
};

/** "The cabin is at 28.1°C, 4.1 K over its setpoint of 24°C, and rising by 1.8 K an hour". */
function cabinText(seen: Seen): string {
  const cabinC = seen.value('cabin.temperature');
  if (cabinC === null) return 'The temperature of the cabin is not known';
  const { setpointC, cools, heats } = askedOf(seen);
  const away = awayK(seen);
  const worse = worseningKPerH(seen);
  const isOver = cools && (!heats || (setpointC !== null && cabinC > setpointC));
  const beside =
    setpointC === null || away === null || (!cools && !heats)
      ? ''
      : `, ${differenceText(Math.abs(away), unitsOf(seen))} ${isOver === away >= 0 ? 'over' : 'under'} its setpoint of ${degrees(seen, setpointC)}`;
  const change = worse === null ? 0 : isOver ? worse : -worse;
  const going =
    worse === null
      ? ''
      : Math.abs(change) < STILL_KPH
        ? ', and stays so'
        : `, and ${change > 0 ? 'rising' : 'falling'} by ${differenceText(Math.abs(change), unitsOf(seen))} an hour`;
  return `The cabin is at ${degrees(seen, cabinC)}${beside}${going}`;
}

function minisplitText({ state, rig }: Seen): string {
  const meanW = state.means.minisplitW;
  if (meanW === null || !rig.minisplit) return 'The mini-split does not hold the cabin';
  if (meanW < 0.05 * rig.minisplit.maxW) return 'The mini-split should be working, but draws next to nothing';
  return `The mini-split tries and fails: it draws ${powerText(meanW)}, and the cabin goes the wrong way`;
}

/** The losses that a person can do something about, or should know of, the greatest first. */
function weaknessText({ state }: Seen): string {
  const judgement = state.learned?.judgement;
  if (!judgement) return 'no day has been judged yet';
  const dirt = judgement.dirt ? [`probably dirt (${judgement.dirt.evidence})`] : [];
  const of = (kind: 'shade-like' | 'unknown', word: string): string[] => {
    const losses = judgement.losses.filter((loss) => loss.kind === kind);
    const lostWh = losses.reduce((sum, loss) => sum + loss.lostWh, 0);
    const most = [...losses].sort((a, b) => b.lostWh - a.lostWh)[0];
    return most ? [`${word}, ${energyText(lostWh)} in the last day (${most.evidence})`] : [];
  };
  return listText([...dirt, ...of('shade-like', 'shade'), ...of('unknown', 'something unknown')]);
}

function leftOverText({ state, bank }: Seen): string {
  const leftW = state.means.unaccountedW ?? 0;
  if (leftW < 0 && Math.abs(leftW) > 50)
    return `About ${powerText(-leftW)} come in from no known source: a charger that is not measured, or a sensor that is wrong`;
  if (leftW > 50) return `About ${powerText(leftW)} go where nothing is measured: a load of its own, or a sensor that is silent or wrong`;
  const unseenA = bank.unseenA ?? 0;
  if (unseenA < 0)
    return `About ${Math.abs(unseenA).toFixed(1)} A leave the bank all day past the shunt: a load wired to the battery post, or the shunt's offset`;
  if (unseenA > 0) return `About ${unseenA.toFixed(1)} A enter the bank all day past the shunt: a charger wired to the battery post, or the shunt's offset`;
  return 'The powers add up again';
}

function changeText(seen: Seen): string {
  const [riseK, fallK] = [watchChange(seen, 'riseK') ?? 0, watchChange(seen, 'fallK') ?? 0];
  return `${differenceText(Math.max(riseK, fallK), unitsOf(seen))} ${riseK >= fallK ? 'up' : 'down'} in ten minutes`;
}

const placesText = (seen: Seen): string => {
  const places = watchThermometers(seen).map(({ signal, tempC }) => `${signalText(signal)} ${degrees(seen, Math.round(10 * tempC) / 10)}`);
  return places.length === 0 ? 'no thermometer speaks' : listText(places, 6);
};

/** Pieces of sentences by name (shared/quantities.ts says what each tells). */
export const PHRASE_TEXTS: ReadonlyMap<string, (seen: Seen) => string> = new Map<string, (seen: Seen) => string>([
  ['night.outlook', ({ watched }) => lowPointTexts(watched).standing],
  ['night.outlookHeld', ({ watched }) => lowPointTexts(watched).returned],
  ['bank.refusal', refusalText],
  ['bank.lastFull', lastFullText],
  ['cabin.state', cabinText],
  ['minisplit.trouble', minisplitText],
  ['panels.weakness', weaknessText],
  ['balance.leftOver', leftOverText],
  ['watch.change', changeText],
  ['watch.places', placesText],
]);
