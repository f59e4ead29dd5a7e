import type { LiveSnapshot } from '../../shared/schema/live.ts';
import type { Projection } from '../../shared/schema/projection.ts';
import { evening, type WebScenario } from './web-scenario.ts';
import { EVENING_MS, H, noFlows, past, projection, SUNRISE_MS } from './web-scenario-parts.ts';

/** An evening with a projection of its own, and what else is different. */
function night(part: Partial<Projection>, more: Partial<LiveSnapshot> = {}, nowMs = EVENING_MS, socPct = 95.8, dropPct = 37.6): WebScenario {
  const base = evening(nowMs, socPct);
  const told = { ...projection(nowMs, socPct, dropPct, 'holds'), ...part };
  return { ...base, snapshot: { ...base.snapshot, projection: told, ...more }, soc: past(nowMs, socPct) };
}

const rig = (part: Partial<LiveSnapshot['rig']>) => ({ rig: { ...evening().snapshot.rig, ...part } });
const polar = { sun: { known: true, isNight: true, polar: 'night', sunsetMs: null, sunriseMs: null } } as const;
const nearSunriseMs = SUNRISE_MS - 12 * 60_000;

/** Signals that fell silent an hour ago, by their place in the list. */
function silent(...indices: readonly number[]): Pick<LiveSnapshot, 'states'> {
  const states = evening().snapshot.states.map((state) =>
    indices.includes(state.index) ? { ...state, freshness: 'silent' as const, tMs: EVENING_MS - H } : state,
  );
  return { states };
}

/** What the verdict and the curve must bear beside the common scenarios, by name. */
export const NIGHT_STATES: Readonly<Record<string, () => WebScenario>> = {
  'tight, doubted': () =>
    night(
      { verdict: 'tight', belowFloorProbability: 0.18, doubts: ['420 W come in from another charger; nobody has said for how long', 'b', 'c'] },
      rig({ confidencePct: 95 }),
      EVENING_MS,
      95.8,
      57,
    ),
  tomorrow: () => night({ nightStartMs: EVENING_MS + H, verdict: 'holds' }, {}, EVENING_MS - 3 * H),
  'learning, under the floor': () => night({ nights: 0, verdict: 'learning' }, {}, EVENING_MS, 84, 62),
  'under the floor now': () => night({ verdict: 'falls-short', belowFloorMs: EVENING_MS, marginWh: -900 }, {}, EVENING_MS, 33, 25),
  'cannot tell, in many words': () =>
    night(
      {
        verdict: 'unknown',
        doubts: [
          'The bank current has been silent for 3 h 20 min, and the state of charge that the device itself tells is older than the last full charge that was seen.',
        ],
        sunrise: null,
        takeover: null,
        curve: [],
        ladder: [],
      },
      { flows: null, bank: null, ...silent(0, 1, 2) },
    ),
  'nothing yet': () => ({ ...night({}, { projection: null, bank: null, flows: null }), soc: { points: [] } }),
  'now near sunrise': () => night({}, {}, nearSunriseMs, 62, 4),
  'now at the very end': () => night({}, {}, SUNRISE_MS + 4 * H, 40, 2),
  'the floor near the curve': () => night({ verdict: 'tight', belowFloorProbability: 0.3, floorPct: 57 }, rig({ floorPct: 57 })),
  'a low bank and a low floor': () => night({ verdict: 'tight', belowFloorProbability: 0.4, floorPct: 10 }, rig({ floorPct: 10 }), EVENING_MS, 30, 18),
  'a high floor': () => night({ verdict: 'tight', belowFloorProbability: 0.4, floorPct: 92 }, rig({ floorPct: 92 }), EVENING_MS, 99, 3),
  'no sunrise': () => night({ sunrise: null, takeover: null, takeoverProbability: 0.1 }, polar),
  'no takeover': () => night({ takeover: null, takeoverProbability: 0.2 }),
  'no mini-split, US units': () =>
    night({ ladder: [], verdict: 'tight', belowFloorProbability: 0.3 }, rig({ hasMinisplit: false, units: 'us' }), EVENING_MS, 95.8, 57),
  'US units': () => night({}, rig({ units: 'us' })),
  'old values': () => night({}, { ...silent(0, 1, 6, 7, 8), flows: { ...noFlows, tMs: EVENING_MS - H, bankW: -200, standingW: 200 } }),
};
