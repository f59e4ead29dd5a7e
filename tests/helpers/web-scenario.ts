import { LIVE_VERSION } from '../../shared/live-version.ts';
import type { Alarm } from '../../shared/schema/alarm.ts';
import type { AlarmBook, AlarmFigures, AlarmLog } from '../../shared/schema/alarm-book.ts';
import type { LookBack, SensorsReport, SocHistory } from '../../shared/schema/api.ts';
import type { DayRow } from '../../shared/schema/ledger.ts';
import type { LiveSnapshot } from '../../shared/schema/live.ts';
import type { NightRow } from '../../shared/schema/projection.ts';
import { alarmOf } from './web-alarm.ts';
import { alarmBook, alarmFigures, alarmLog, reachView, watchView } from './web-alarm-book.ts';
import { days, lookBack } from './web-ledger.ts';
import { EVENING_MS, H, nights, noFlows, past, projection, SUNRISE_MS, SUNSET_MS, signals, VALUES } from './web-scenario-parts.ts';

/** All that a screen gets from the box at one moment. */
export interface WebScenario {
  readonly snapshot: LiveSnapshot;
  readonly soc: SocHistory;
  readonly sensors: SensorsReport;
  readonly nights: readonly NightRow[];
  readonly days: readonly DayRow[];
  readonly lookBack: LookBack;
  readonly book: AlarmBook;
  readonly log: AlarmLog;
  readonly figures: AlarmFigures;
}

/** The quiet evening: the bank holds, every signal is fresh. All other scenarios are changes of this one. */
export function evening(nowMs: number = EVENING_MS, socPct = 95.8): WebScenario {
  const snapshot: LiveSnapshot = {
    v: LIVE_VERSION,
    serverMs: nowMs,
    rig: {
      id: 'heron',
      name: 'Heron',
      units: 'metric',
      timeZone: 'Europe/Lisbon',
      demo: true,
      pace: 1,
      placeKnown: true,
      floorPct: 35,
      hasMinisplit: true,
      hasInverter: true,
      rigFileFault: null,
    },
    ...signals(nowMs),
    flows: {
      ...noFlows,
      tMs: nowMs,
      bankW: -246,
      panelsW: 118,
      minisplitW: 214,
      loads: [{ name: 'fridge', powerW: 46 }],
      standingW: 104,
      inverterW: 46,
      unaccountedW: 0,
      surplusW: null,
    },
    bank: { socPct, socSigmaPct: 0.8, anchoredMs: nowMs - 2 * H, deviceSocPct: 95, capacityAh: 276.4, voltageV: 26.31, currentA: -9.4, remarks: [] },
    projection: projection(nowMs, socPct, 37.6, 'holds'),
    alarms: [alarmOf({ id: 'low-point', title: 'The bank tonight', sinceMs: nowMs - 30 * H })],
    sun: { known: true, isNight: false, polar: 'none', sunsetMs: SUNSET_MS, sunriseMs: SUNRISE_MS },
    health: { broker: 'connected', brokerSinceMs: nowMs - 26 * H, store: 'ok', messages: 90_124, readings: 89_877, rejected: 247, lastMessageMs: nowMs - 1000 },
    plan: [],
    reach: reachView(nowMs),
    watch: watchView(),
  };
  const sensors: SensorsReport = {
    signals: VALUES.map(([name]) => ({ name, rejected: [], remarks: [], note: '', skewMs: null })),
    unmapped: [{ topic: 'heron/tank/level', count: 412, lastMs: nowMs - 12_000, lastPayload: '{"litres": 61}', retained: false }],
    unmappedDropped: 0,
  };
  const alarms = { book: alarmBook(), log: alarmLog(nowMs), figures: alarmFigures(nowMs) };
  return { snapshot, soc: past(nowMs, socPct), sensors, nights: nights(29), days: days(3), lookBack: lookBack(), ...alarms };
}

const lowPointAlarm = (nowMs: number): Alarm =>
  alarmOf({
    id: 'low-point',
    title: 'The bank tonight',
    condition: true,
    lifecycle: 'unacknowledged',
    suppression: 'none',
    priority: 'high',
    occurrence: 3,
    sinceMs: nowMs - 240_000,
    text: 'The bank is likely to fall under the floor of 35 % at about 05:32; lowest 22 % at 08:35.',
  });

const with_ = (base: WebScenario, part: Partial<LiveSnapshot>): WebScenario => ({ ...base, snapshot: { ...base.snapshot, ...part } });

/** What the screens must bear, by name. */
export const SCENARIOS = {
  evening: () => evening(),
  tight: () => with_(evening(), { projection: projection(EVENING_MS, 95.8, 57, 'tight') }),
  short: () => {
    const base = evening(EVENING_MS, 84);
    return with_(base, {
      projection: projection(EVENING_MS, 84, 62, 'falls-short'),
      alarms: [lowPointAlarm(EVENING_MS)],
      sun: { ...base.snapshot.sun, isNight: true },
    });
  },
  learning: () => with_(evening(), { projection: { ...projection(EVENING_MS, 95.8, 40, 'learning'), nights: 2, doubts: ['only 2 nights to learn from'] } }),
  unknown: () =>
    with_(evening(), {
      projection: {
        ...projection(EVENING_MS, 50, 30, 'unknown'),
        doubts: ['the bank current has been silent for 20 min'],
        sunrise: null,
        takeover: null,
        curve: [],
        ladder: [],
      },
      bank: null,
      flows: { ...noFlows, panelsW: 118, missing: [{ signal: 'bank.current', lost: 'no state of charge, no projection' }] },
    }),
  charging: () => {
    const nowMs = Date.UTC(2026, 10, 24, 14, 12);
    const base = evening(nowMs, 93);
    return with_(base, {
      flows: {
        ...noFlows,
        tMs: nowMs,
        bankW: 812,
        panelsW: 903,
        chargers: [{ name: 'alternator', powerW: 420 }],
        minisplitW: 231,
        loads: [],
        standingW: 96,
        inverterW: 49,
        unaccountedW: 135,
        surplusW: 310,
      },
      bank: { socPct: 93, socSigmaPct: 0.8, anchoredMs: nowMs - 22 * H, deviceSocPct: 92, capacityAh: 276.4, voltageV: 27.4, currentA: 29.6, remarks: [] },
      projection: projection(nowMs, 93, 30, 'holds'),
    });
  },
  missing: () => {
    const base = evening();
    const states = base.snapshot.states.map((state) => (state.index === 3 ? { ...state, freshness: 'silent' as const, tMs: EVENING_MS - 700_000 } : state));
    return with_(base, {
      states,
      flows: {
        ...noFlows,
        bankW: -246,
        minisplitW: 214,
        loads: [{ name: 'fridge', powerW: 0 }],
        standingW: null,
        inverterW: 46,
        missing: [{ signal: 'panels.power', lost: 'standing loads and surplus' }],
      },
    });
  },
  fiveWatts: () => with_(evening(), { flows: { ...noFlows, bankW: -5, panelsW: 0, minisplitW: 0, standingW: 3.2, inverterW: 1.8, unaccountedW: 0 } }),
  fiveKilowatts: () =>
    with_(evening(), {
      flows: {
        ...noFlows,
        bankW: -3020,
        panelsW: 1480,
        chargers: [{ name: 'generator', powerW: 700 }],
        minisplitW: 930,
        loads: [
          { name: 'cooker', powerW: 1800 },
          { name: 'kettle', powerW: 2000 },
          { name: 'fridge', powerW: 60 },
        ],
        standingW: 4010,
        inverterW: 260,
        unaccountedW: 0,
      },
    }),
} satisfies Record<string, () => WebScenario>;

/** Names and payloads of a hostile neighbour; they must stay text everywhere. */
export function hostile(): WebScenario {
  const attack = '<img src=x onerror="window.attacked=true">';
  const base = evening();
  const { snapshot, sensors } = base;
  return {
    ...base,
    snapshot: {
      ...snapshot,
      rig: { ...snapshot.rig, name: attack, rigFileFault: attack },
      signals: snapshot.signals.map((info) => ({ ...info, label: attack, topics: [attack] })),
      flows: snapshot.flows && { ...snapshot.flows, loads: [{ name: attack, powerW: 46 }] },
      projection: snapshot.projection && { ...snapshot.projection, doubts: [attack] },
      alarms: [{ ...lowPointAlarm(snapshot.serverMs), text: attack }],
    },
    sensors: {
      ...sensors,
      signals: sensors.signals.map((s) => ({
        ...s,
        note: attack,
        rejected: [{ reason: 'not-a-number' as const, count: 2, lastMs: snapshot.serverMs - 5000, lastPayload: attack }],
      })),
      unmapped: [{ topic: attack, count: 1, lastMs: snapshot.serverMs - 5000, lastPayload: attack, retained: true }],
    },
  };
}
