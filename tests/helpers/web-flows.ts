import type { Flows } from '../../shared/schema/flows.ts';
import { evening, type WebScenario } from './web-scenario.ts';
import { EVENING_MS, noFlows } from './web-scenario-parts.ts';

/** Powers that add up to nothing left over: the bank gives or takes the rest. */
const balanced = (part: Partial<Flows>): Flows => ({ ...noFlows, panelsW: 0, minisplitW: 0, standingW: 0, inverterW: 0, bankW: 0, unaccountedW: 0, ...part });

const load = (name: string, powerW: number | null) => ({ name, powerW });
const smallLoads = ['fridge', 'water-pump', 'fan', 'router', 'lights-in-the-back', 'heat-pad', 'clock'].map((name, i) => load(name, 3 + 2 * i));

/** Every state of the balance of flows that a screen must bear, by name. */
export const FLOW_STATES: Readonly<Record<string, Flows | null>> = {
  evening: balanced({ bankW: -246, panelsW: 118, minisplitW: 214, loads: [load('fridge', 46)], standingW: 104, inverterW: 46 }),
  charging: balanced({ bankW: 602, panelsW: 933, minisplitW: 190, loads: [load('fridge', 46)], standingW: 96, inverterW: 45 }),
  'another charger': balanced({ bankW: 977, panelsW: 903, chargers: [load('alternator', 420)], minisplitW: 205, standingW: 94, inverterW: 47 }),
  'several loads': balanced({
    bankW: -1475,
    panelsW: 320,
    minisplitW: 480,
    loads: [load('cooker', 900), load('fridge', 60), load('water-pump', 72), load('router', 11)],
    standingW: 1180,
    inverterW: 135,
  }),
  'many small loads': balanced({ bankW: -161, minisplitW: 60, loads: smallLoads, standingW: 78, inverterW: 23 }),
  'many loads, the rest unknown': balanced({ bankW: -161, minisplitW: 60, loads: smallLoads, standingW: null, inverterW: 23, unaccountedW: null }),
  'a missing input': balanced({ bankW: -246, panelsW: null, minisplitW: 214, standingW: null, inverterW: 46, unaccountedW: null }),
  'a missing bank': balanced({ bankW: null, panelsW: 118, minisplitW: 214, standingW: 104, inverterW: 46, unaccountedW: null }),
  'a rest that comes in': balanced({ bankW: -246, panelsW: 18, minisplitW: 214, standingW: 104, inverterW: 46, unaccountedW: -100 }),
  'a rest that goes out': balanced({ bankW: -246, panelsW: 253, minisplitW: 214, standingW: 104, inverterW: 46, unaccountedW: 135 }),
  'full, with sun thrown away': balanced({ bankW: 4, panelsW: 352, minisplitW: 200, standingW: 104, inverterW: 44, surplusW: 640 }),
  'full, nearly all thrown away': balanced({ panelsW: 12, standingW: 12, surplusW: 1210 }),
  '5 W': balanced({ bankW: -5, standingW: 3.2, inverterW: 1.8 }),
  '5 kW': balanced({
    bankW: -3020,
    panelsW: 1480,
    chargers: [load('generator', 700)],
    minisplitW: 930,
    loads: [load('cooker', 1800), load('kettle', 2000), load('fridge', 60)],
    standingW: 4010,
    inverterW: 260,
  }),
  'everything at once': balanced({
    bankW: 300,
    panelsW: 1480,
    chargers: [load('generator', 700), load('alternator', null), load('shore-power', 12)],
    minisplitW: 330,
    loads: [load('cooker', 400), load('kettle', 500), load('fridge', 60), load('a-very-long-name-of-a-load', 20)],
    standingW: 1000,
    inverterW: 260,
    unaccountedW: 302,
    surplusW: 350,
  }),
  'everything zero': balanced({}),
  'everything unknown': { ...noFlows },
  'nothing told': null,
};

/** The quiet evening with other flows. */
export function withFlows(flows: Flows | null): WebScenario {
  const base = evening();
  return { ...base, snapshot: { ...base.snapshot, flows: flows && { ...flows, tMs: EVENING_MS } } };
}
