import { describe, expect, it } from 'vitest';
import { projectJob } from '../../engine/due.ts';
import { initialState } from '../../engine/state.ts';
import type { Bin, RigModel } from '../../engine/types.ts';
import { rigOf } from '../helpers/engine-rig.ts';
import { lived, SUNSET_MS } from '../helpers/engine-snapshot.ts';

const usual = rigOf({ capacityAh: 400 });
const rig: RigModel = { ...usual, minisplit: usual.minisplit && { ...usual.minisplit, setpointC: null } };
const from = { tMs: SUNSET_MS, bank: { socFrac: 0.8, sd: 0.01 }, bankSilent: false, setpointC: null, minisplitW: null, standingW: null };

/** The setpoint that a projection starts from after ten days of a past. */
function setpointAfter(of: RigModel, edit: (bin: Bin) => Bin, latest: Record<string, { value: number; tMs: number }> = {}): number | null {
  const { learned } = lived(of, { days: 10, edit });
  const job = projectJob({ ...initialState(of, SUNSET_MS), learned, latest }, of, from);
  if (job.kind !== 'project') throw new Error(`a ${job.kind} job`);
  return job.snapshot.setpointC;
}

describe('the setpoint that a projection starts from', () => {
  const unsaid = (bin: Bin): Bin => ({ ...bin, setpointC: null });

  it('is what the cabin was held at, where nothing says it', () => {
    expect(setpointAfter(rig, unsaid)).toBeCloseTo(24, 0);
  });

  it('is the last one said, however old', () => {
    expect(setpointAfter(rig, (bin) => bin, { 'minisplit.setpoint': { value: 22, tMs: SUNSET_MS - 40 * 3_600_000 } })).toBe(22);
  });
});
