import type { Flows } from '../shared/schema/flows.ts';
import type { Learned } from './learned.ts';
import { account, type InverterModel } from './loads/account.ts';
import type { EngineState, LatestValue, RigModel } from './types.ts';

/** Powers at the bus by name, from the newest values; silent signals are null. */
export interface Powers {
  readonly bankW: number | null;
  readonly panelsW: number | null;
  readonly chargers: readonly { readonly name: string; readonly powerW: number | null }[];
  readonly minisplitW: number | null;
  readonly loads: readonly { readonly name: string; readonly powerW: number | null }[];
}

/** The inverter as known now: as learned, else its idle draw from the rig file and a usual slope. */
export const inverterOf = (rig: Pick<RigModel, 'inverter'>, learned: Learned | null): InverterModel | null =>
  rig.inverter && { idleW: learned?.inverterIdleW ?? rig.inverter.idleW, slope: learned?.inverterSlope ?? DEFAULT_SLOPE };

/** Watts at the bus per watt behind a small battery inverter, before it is learned. */
export const DEFAULT_SLOPE = 1.07;

/** What a panel sensor shows in the dark is its zero, not sun, up to this share of the rated power; more is another source on its wires. */
const DARK_SHARE = 0.02;

/** Reads the powers from the newest values. A source or a load under zero is the zero of its sensor. */
export function powersOf(value: (signal: string) => number | null, rig: RigModel, dark: boolean): Powers {
  const product = (a: number | null, b: number | null): number | null => (a === null || b === null ? null : a * b);
  const positive = (w: number | null): number | null => (w === null ? null : Math.max(0, w));
  const seenW = positive(value('panels.power') ?? product(value('panels.voltage'), value('panels.current')) ?? (rig.panels.length === 0 ? 0 : null));
  const ratedW = rig.panels.reduce((sum, panel) => sum + panel.ratedW, 0);
  return {
    bankW: product(value('bank.voltage'), value('bank.current')),
    panelsW: seenW !== null && dark && seenW < DARK_SHARE * ratedW ? 0 : seenW,
    chargers: rig.chargers.map((name) => ({ name, powerW: positive(value(`charge.${name}.power`)) })),
    minisplitW: positive(value('minisplit.power')),
    loads: rig.loads.map((name) => ({ name, powerW: positive(value(`load.${name}.power`)) })),
  };
}

/** The balance of the powers. A load measured behind the inverter weighs its slope at the bus. */
export function balanceOf(powers: Powers, rig: RigModel, inverter: InverterModel | null) {
  const measuredLoadsW = powers.loads.reduce(
    (sum, load) => sum + (load.powerW ?? 0) * (rig.acSide.has(`load.${load.name}.power`) ? (inverter?.slope ?? 1) : 1),
    0,
  );
  return account(
    {
      bankW: powers.bankW,
      panelsW: powers.panelsW,
      chargersW: powers.chargers.reduce((sum, charger) => sum + (charger.powerW ?? 0), 0),
      minisplitW: powers.minisplitW,
      minisplitIsAc: rig.acSide.has('minisplit.power'),
      minisplitSilent: powers.minisplitW === null && rig.everyS.has('minisplit.power'),
      measuredLoadsW,
    },
    inverter,
  );
}

const LOST: readonly (readonly [signal: string, lost: string])[] = [
  ['bank.voltage', 'bank power, state of charge'],
  ['bank.current', 'bank power, state of charge'],
  ['panels.power', 'panels, all loads, surplus'],
  ['minisplit.power', 'the mini-split apart from the other loads'],
  ['outside.temperature', "tonight's weather in the projection"],
  ['cabin.temperature', 'the cabin in the projection'],
];

/** The balance of powers at the bus from the newest values; cheap enough for every coalesced change. */
export function flowsOf(latest: ReadonlyMap<string, LatestValue>, state: EngineState, rig: RigModel, nowMs: number): Flows {
  const value = (signal: string): number | null => {
    const found = latest.get(signal);
    return found?.fresh && found.quality !== 'bad' ? found.value : null;
  };
  const powers = powersOf(value, rig, state.sky.dark);
  const balance = balanceOf(powers, rig, inverterOf(rig, state.learned));
  const wanted = LOST.filter(([signal]) => (signal === 'panels.power' ? rig.panels.length > 0 : signal === 'minisplit.power' ? rig.minisplit !== null : true));
  const expectedW = state.panels.expectedW;
  return {
    tMs: nowMs,
    bankW: powers.bankW,
    panelsW: powers.panelsW,
    chargers: [...powers.chargers],
    minisplitW: balance.minisplitW,
    loads: [...powers.loads],
    standingW: balance.standingW,
    inverterW: rig.inverter ? balance.inverterW : null,
    unaccountedW: balance.unaccountedW,
    surplusW: state.panels.curtailed && expectedW !== null && powers.panelsW !== null ? Math.max(0, expectedW - powers.panelsW) : null,
    missing: wanted
      .filter(([signal]) => (signal === 'panels.power' ? powers.panelsW === null : value(signal) === null))
      .map(([signal, lost]) => ({ signal, lost })),
  };
}
