import { deviceLowerFrac, learnedCapacityAh } from '../bank/bank.ts';
import { chemistryOf } from '../bank/chemistry.ts';
import { coldFloorFrac } from '../bank/cold.ts';
import type { Maybe } from '../numeric/series.ts';
import { awayK, overK, underK, worseningKPerH } from './cabin.ts';
import type { Seen } from './seen.ts';
import { silentNeeded, silentShunt, silentSignals, unbelievedNeeded, unbelievedShunt } from './sensors.ts';
import { watchBlind, watchChange, watchOverK, watchThermometers, watchUnderK } from './watch.ts';

const DAY_MS = 86_400_000;
/** Under this state of charge a bank under load is switched off by its board or its inverter, fraction. */
const EMPTY_FRAC = 0.03;
/** A draw of less than this share of the capacity per hour empties no bank tonight; the most hours that are told. */
const IDLE_PER_H = 1 / 500;
const MOST_HOURS = 99;
/** A bank takes nothing while its current stays within this share of the capacity per hour. */
const NOTHING_PER_H = 1 / 200;

const less = (a: Maybe, b: Maybe): Maybe => (a === null || b === null ? null : a - b);
const flag = (is: boolean | null): Maybe => (is === null ? null : is ? 1 : 0);

/** By the counter that says less, where either of two may be right. */
function marginPct({ state, bank: { socPct, socSigmaPct }, watched, tMs }: Seen): Maybe {
  if (socPct === null) return null;
  const lowerFrac = deviceLowerFrac(state.bank, tMs, { socFrac: socPct / 100, sd: socSigmaPct / 100 });
  return socPct - 100 * lowerFrac - watched.text.floorPct;
}

/** From the low edge of what is believed, and what cold keeps back taken off. */
function hoursToEmpty({ state, bank, rig, value }: Seen): Maybe {
  if (bank.socPct === null || value('bank.current') === null) return null;
  const drawnA = -state.bank.hourCurrentA;
  if (drawnA <= IDLE_PER_H * rig.capacityAh) return MOST_HOURS;
  const emptyFrac = coldFloorFrac(chemistryOf(rig), EMPTY_FRAC, value('bank.temperature'));
  const leftFrac = Math.max(0, (bank.socPct - bank.socSigmaPct) / 100 - emptyFrac);
  return Math.min(MOST_HOURS, (leftFrac * learnedCapacityAh(state.bank, rig)) / drawnA);
}

/** What the charger holds back while the bank, surely not nearly full, neither takes nor gives. */
function refusedW({ state, bank, rig, value }: Seen): Maybe {
  const { panels } = state;
  const currentA = value('bank.current');
  const panelsW = value('panels.power');
  if (!panels.curtailed) return panels.expectedW === null && rig.panels.length > 0 ? null : 0;
  if (bank.socPct === null || currentA === null || panels.expectedW === null) return null;
  const nearlyFull = (bank.socPct + 2 * bank.socSigmaPct) / 100 >= chemistryOf(rig).acceptance.fromFrac;
  if (nearlyFull || Math.abs(currentA) > NOTHING_PER_H * rig.capacityAh) return 0;
  return Math.max(0, panels.expectedW - (panelsW ?? 0));
}

const aboveChargeLimitK = ({ rig, value }: Seen): Maybe => less(value('bank.temperature'), chemistryOf(rig).blockedBelowC);

const voltageMarginV = ({ rig, value }: Seen): Maybe => less(value('bank.voltage'), rig.inverter?.cutoffV ?? null);

/** Share of a clear day's energy, percent; null before a day was judged. */
function lostPct({ state }: Seen, kind: 'shade-like' | 'unknown'): Maybe {
  const judgement = state.learned?.judgement;
  if (!judgement?.couldWh) return null;
  const lostWh = judgement.losses.reduce((sum, loss) => sum + (loss.kind === kind ? loss.lostWh : 0), 0);
  return Math.min(100, (100 * lostWh) / judgement.couldWh);
}

/** Quantities by name. Worked out only when a rule asks. */
export const DERIVED: ReadonlyMap<string, (seen: Seen) => Maybe> = new Map<string, (seen: Seen) => Maybe>([
  ['night.belowFloorProbability', ({ watched }) => watched.belowFloorProbability],
  ['night.lowPointPct', ({ watched }) => watched.text.lowPointPct],
  ['night.sunrisePct', ({ watched, state }) => (watched.belowFloorProbability === null ? null : (state.projection?.sunrise?.p50Pct ?? null))],
  ['night.marginWh', ({ watched, state }) => (watched.belowFloorProbability === null ? null : (state.projection?.marginWh ?? null))],

  ['bank.socPct', ({ bank }) => bank.socPct],
  ['bank.socSigmaPct', ({ bank }) => (bank.socPct === null ? null : bank.socSigmaPct)],
  ['bank.marginPct', marginPct],
  ['bank.hoursToEmpty', hoursToEmpty],
  ['bank.chargePctPerH', ({ state, rig, value }) => (value('bank.current') === null ? null : (100 * state.bank.meanCurrentA) / rig.capacityAh)],
  ['bank.daysSinceFull', ({ state, tMs }) => (tMs - (state.bank.anchoredMs ?? state.sinceMs)) / DAY_MS],
  ['bank.cellMarginV', ({ rig, value }) => less(value('bank.cellVoltageMin'), chemistryOf(rig).emptyV)],
  ['bank.aboveChargeLimitK', aboveChargeLimitK],
  ['bank.refusedW', refusedW],
  ['bank.unseenA', ({ bank }) => bank.unseenA ?? 0],

  ['inverter.voltageMarginV', voltageMarginV],
  [
    'inverter.cellMarginV',
    (seen) => {
      const marginV = voltageMarginV(seen);
      return marginV === null ? null : marginV / seen.rig.cells;
    },
  ],

  ['cabin.overK', overK],
  ['cabin.underK', underK],
  ['cabin.awayK', awayK],
  ['cabin.worseningKPerH', worseningKPerH],
  ['minisplit.meanW', ({ state }) => state.means.minisplitW],
  ['minisplit.meanPct', ({ state, rig }) => (state.means.minisplitW === null || !rig.minisplit ? null : (100 * state.means.minisplitW) / rig.minisplit.maxW)],

  ['panels.dirtPct', ({ state }) => (state.learned?.judgement ? 100 * (state.learned.judgement.dirt?.lossFrac ?? 0) : null)],
  ['panels.shadePct', (seen) => lostPct(seen, 'shade-like')],
  ['panels.unexplainedPct', (seen) => lostPct(seen, 'unknown')],
  ['balance.unaccountedW', ({ state }) => state.means.unaccountedW],

  ['sensors.silent', (seen) => silentSignals(seen).length],
  ['sensors.silentNeeded', (seen) => silentNeeded(seen).length],
  ['sensors.silentBank', (seen) => silentShunt(seen).length],
  ['sensors.suspect', ({ box }) => box.suspect.length],
  ['sensors.unbelievedNeeded', (seen) => unbelievedNeeded(seen).length],
  ['sensors.unbelievedBank', (seen) => unbelievedShunt(seen).length],

  ['box.brokerLost', ({ box }) => flag(box.brokerLost)],
  ['box.storeFailing', ({ box }) => flag(box.storeFailing)],
  ['box.copyFailing', ({ box }) => flag(box.copyFailing)],
  ['box.clockUnsure', ({ box }) => flag(box.clockUnsure)],
  ['routes.failing', ({ box }) => box.failingRoutes?.length ?? null],
  ['routes.none', ({ box }) => flag(box.noRoute)],

  ['watch.armed', ({ box }) => flag(box.watch !== null)],
  ['watch.overK', watchOverK],
  ['watch.underK', watchUnderK],
  ['watch.riseK', (seen) => watchChange(seen, 'riseK')],
  ['watch.fallK', (seen) => watchChange(seen, 'fallK')],
  ['watch.thermometers', (seen) => (seen.box.watch === null ? null : watchThermometers(seen).length)],
  ['watch.blind', (seen) => watchBlind(seen).length],
]);
