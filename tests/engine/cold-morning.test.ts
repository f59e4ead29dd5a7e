import { describe, expect, it } from 'vitest';
import { initialState } from '../../engine/state.ts';
import { type EngineState, type Observation, STEP_MS } from '../../engine/types.ts';
import { NOON_MS, rigOf, stepWith } from '../helpers/engine-rig.ts';

const rig = rigOf({ everyS: new Map(['bank.voltage', 'bank.current', 'panels.power', 'bank.temperature', 'bank.chargeAllowed'].map((name) => [name, 10])) });
/** Sun at noon and a bank that takes nothing: the panels carry only the loads. */
const MORNING = { 'bank.voltage': 8 * 3.28, 'bank.current': 0, 'panels.power': 110 };

function lived(values: Readonly<Record<string, number>>, minutes = 20): { last: Observation; state: EngineState; snapshot: unknown } {
  let state = initialState(rig, NOON_MS);
  let last = stepWith(state, NOON_MS + STEP_MS, values, rig);
  let snapshot: unknown = null;
  for (let i = 2; i <= minutes * 6; i++) {
    state = last.state;
    last = stepWith(state, NOON_MS + i * STEP_MS, values, rig);
    for (const job of last.jobs) if (job.kind === 'project') snapshot = job.snapshot;
  }
  return { last, state: last.state, snapshot };
}

describe('S11 a sunny morning with 0 A into a cold bank', () => {
  it('is no weak sun: the panels are held back, and their index is not learned', () => {
    const cold = lived({ ...MORNING, 'bank.temperature': 0.5 });
    expect(cold.state.panels.curtailed).toBe(true);
    expect(cold.state.panels.recentIndex).toBeNull();
    const warm = lived({ ...MORNING, 'bank.temperature': 20 });
    expect(warm.state.panels.curtailed).toBe(false);
    expect(warm.state.panels.recentIndex).toBeGreaterThan(0);
  });

  it('goes into the projection, with the words for the person', () => {
    const cold = lived({ ...MORNING, 'bank.temperature': 0.5, 'bank.chargeAllowed': 0 });
    expect(cold.snapshot).toMatchObject({ bankC: 0.5, chargeAllowed: false });
    expect(cold.last.bank.remarks).toContain('the bank is at 0.5 deg C; charging is probably blocked by cold');
    expect(lived(MORNING).snapshot).toMatchObject({ bankC: null, chargeAllowed: null });
  });

  it('a temperature that is long silent says nothing of now', () => {
    let { state } = lived({ ...MORNING, 'bank.temperature': 0.5 }, 10);
    let snapshot: unknown = null;
    for (let i = 61; i <= 6 * 85; i++) {
      const seen = stepWith(state, NOON_MS + i * STEP_MS, MORNING, rig);
      state = seen.state;
      for (const job of seen.jobs) if (job.kind === 'project') snapshot = job.snapshot;
      if (i === 6 * 85) expect(seen.bank.remarks.join()).not.toContain('cold');
    }
    expect(snapshot).toMatchObject({ bankC: null });
    expect(state.panels.curtailed).toBe(false);
  });
});
