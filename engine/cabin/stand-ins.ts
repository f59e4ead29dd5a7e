import type { EpochMs } from '../../shared/units.ts';
import { DEFAULT_SLOPE } from '../flows.ts';
import { DAY_MS, type Grid } from '../history.ts';
import type { Maybe } from '../numeric/series.ts';
import { ratedPanelsW } from '../panels/panel-model.ts';
import { BIN_MS, type Bin, type RigModel } from '../types.ts';
import { driversOf, heatsNow } from './drivers.ts';
import { heldTemperatures } from './held.ts';
import { type Behind, type Drawn, type Split, splitOf, unitSharesW, unitShareW } from './split.ts';

/** What stands in for signals that the rig does not send; null: it is sent, or nothing can stand in for it. */
export interface StandIns {
  /** The temperature that the thermostat holds, deg C. */
  readonly setpointC: Maybe;
  readonly split: Split | null;
}

type Rig = Pick<RigModel, 'minisplit' | 'inverter' | 'panels'>;

const behind = (rig: Rig): Behind => (rig.inverter ? { idleW: rig.inverter.idleW, slope: DEFAULT_SLOPE } : { idleW: 0, slope: 1 });

/** A signal not seen for a day is not sent. */
const isSilent = (bins: readonly (Bin | null)[], pick: (bin: Bin) => Maybe): boolean =>
  !bins.slice(-DAY_MS / BIN_MS).some((b) => b !== null && pick(b) !== null);

/** Finds stand-ins for the setpoint and the mini-split's power where nothing measures them, and fills the grid's bins with them. Measured values stay. */
export function standIn(grid: Grid, rig: Rig, atMs: EpochMs): { readonly grid: Grid; readonly standIns: StandIns } {
  const unit = rig.minisplit;
  if (!unit) return { grid, standIns: { setpointC: null, split: null } };
  const { startMs } = grid;
  let bins = grid.bins;
  let setpointC: Maybe = null;
  if (unit.setpointC === null && isSilent(bins, (b) => b.setpointC)) {
    const held = heldTemperatures(bins, unit.maxW);
    setpointC = held.at(-1) ?? null;
    bins = bins.map((b, i) => b && { ...b, setpointC: b.setpointC ?? held[i] ?? null });
  }
  let split: Split | null = null;
  if (isSilent(bins, (b) => b.minisplitW)) {
    const told = { startMs, bins };
    const found = splitOf({
      grid: told,
      drivers: driversOf(told, unit, ratedPanelsW(rig)),
      heats: heatsNow(told, unit.modeIndex),
      maxW: unit.maxW,
      atMs,
      ...behind(rig),
    });
    if (found) bins = withShares(bins, found, unit.maxW, behind(rig));
    split = found;
  }
  return { grid: { startMs, bins }, standIns: { setpointC, split } };
}

/** The same for newer bins, by what the last refit found. */
export function standInFor(bins: readonly Bin[], { setpointC, split }: StandIns, rig: Rig): Bin[] {
  const unit = rig.minisplit;
  const told = bins.map((bin) => ({ ...bin, setpointC: bin.setpointC ?? setpointC }));
  return unit && split ? withShares(told, split, unit.maxW, behind(rig)) : told;
}

/** The same for a moment: the mini-split's power where nothing measures it, W behind the inverter; null where it cannot be told. */
export function standInNowW({ setpointC, split }: StandIns, drawn: Drawn, rig: Rig): Maybe {
  const unit = rig.minisplit;
  return unit && split && unitShareW(split, { ...drawn, setpointC: drawn.setpointC ?? setpointC }, unit.maxW, behind(rig));
}

/** The bus's draw with the mini-split's part of it told, W: what the inverter takes, and the standing load that is left. */
export function sharedOut(loadsW: number, minisplitW: number, { idleW, slope }: Behind) {
  const inverterW = idleW + (slope - 1) * minisplitW;
  return { minisplitW, inverterW, standingW: Math.max(0, loadsW - inverterW - minisplitW) };
}

function withShares<B extends Bin | null>(bins: readonly B[], split: Split, maxW: number, inverter: Behind): B[] {
  const shares = unitSharesW(split, bins, maxW, inverter);
  return bins.map((bin, i) => {
    const minisplitW = shares[i] ?? null;
    if (bin === null || bin.minisplitW !== null || bin.loadsW === null || minisplitW === null) return bin;
    return { ...bin, ...sharedOut(bin.loadsW, minisplitW, inverter) };
  });
}
