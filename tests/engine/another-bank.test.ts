import { beforeAll, describe, expect, it } from 'vitest';
import { type EngineState, initialState, restoreState } from '../../engine/state.ts';
import type { RigModel } from '../../engine/types.ts';
import type { Projection } from '../../shared/schema/projection.ts';
import { DAY_MS, HOUR_MS, NOON_MS, rigOf, stepWith } from '../helpers/engine-rig.ts';
import { worldOf } from '../helpers/engine-world.ts';

const rig = rigOf({ place: { latitudeDeg: 0, longitudeDeg: 0 } });
const tMs = NOON_MS + DAY_MS;
/** The state after a day with a bank of eight cells. */
let state: EngineState;
beforeAll(() => {
  state = worldOf(rig, initialState(rig, NOON_MS), NOON_MS, 0.9).live(tMs).state;
});
const next = (other: RigModel, voltageV: number, from = state) => stepWith(from, tMs + 10_000, { 'bank.voltage': voltageV, 'bank.current': -5 }, other);

describe('another bank in the rig file', () => {
  it.each([
    ['another number of cells', rigOf({ cells: 4 }), 13.1],
    ['another capacity', rigOf({ capacityAh: 400 }), 26.2],
    ['another chemistry', rigOf({ chemistry: 'AGM', cells: 12 }), 25],
  ])('with %s: nothing believed of the old one is used', (_, other, voltageV) => {
    expect(state.bank.anchoredMs).not.toBeNull();
    const { state: anew, bank } = next({ ...other, place: rig.place }, voltageV, { ...state, projection: { tMs } as Projection });
    expect(anew.projection).toBeNull();
    expect(anew.bank).toMatchObject({ anchoredMs: null, closings: [] });
    expect(anew.calibration.pending).toEqual([]);
    // Told by the voltage alone, and so very unsure.
    expect(bank?.socSigmaPct).toBeGreaterThan(10);
    expect(anew.learned?.nights).toBe(state.learned?.nights);
    expect(anew.sinceMs).toBe(state.sinceMs);
  });

  it('is noticed after a restart too', () => {
    const restored = restoreState(JSON.stringify(state));
    if (!restored) throw new TypeError('the state was not restored');
    const anew = stepWith(restored, tMs + HOUR_MS, { 'bank.voltage': 13.1, 'bank.current': -5 }, { ...rig, cells: 4 });
    expect(anew.state.bank.anchoredMs).toBeNull();
  });

  it('is none when only the floor, the confidence or something else of the rig is another', () => {
    const { bank } = next({ ...rig, floorFrac: 0.5, confidence: 0.8, inverter: null }, 26.2).state;
    expect(bank.anchoredMs).toBe(state.bank.anchoredMs);
    expect(bank.belief?.socFrac).toBeCloseTo(state.bank.belief?.socFrac ?? Number.NaN, 2);
  });

  it('a state kept before this was noted goes on as it is', () => {
    const { bankIs, ...old } = state;
    expect(bankIs).toBe('LiFePO4, 8 cells, 200 Ah');
    const seen = stepWith(old, tMs + 10_000, { 'bank.voltage': 26.2, 'bank.current': -5 }, rig);
    expect(seen.state.bank.anchoredMs).toBe(state.bank.anchoredMs);
    expect(seen.state.bankIs).toBe(bankIs);
  });
});
