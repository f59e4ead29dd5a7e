import { z } from 'zod';

/** What a bank remembers from step to step. */
export const BankState = z.strictObject({
  chargeAh: z.number(),
  capacityAh: z.number(),
  /** Voltage over the slow part of the resistance, V. */
  slowV: z.number(),
  tempC: z.number(),
  /** True after absorption until the next dark: the charger only holds. */
  holding: z.boolean(),
  tailS: z.number(),
});
export type BankState = z.infer<typeof BankState>;

/** What a step did. Currents and powers are positive into the bank. */
export interface BankFlow {
  readonly currentA: number;
  readonly voltageV: number;
  /** What the panels gave, W; the rest of what they could was thrown away. */
  readonly panelsW: number;
  /** Turned into heat inside the bank, W. */
  readonly lossW: number;
}

const CELLS = 8;
const NEW_CAPACITY_AH = 274;
const FAST_OHM = 0.0052;
const SLOW_OHM = 0.0038;
const SLOW_S = 780;
/** Share of the charge put in that comes out again. */
const COULOMB_FRAC = 0.996;
const ABSORB_V = 28.4;
const HOLD_V = 27.2;
const TAIL_A = 5.6;
const TAIL_HOLD_S = 600;
/** A fifth of the capacity is gone after about 3500 whole cycles. */
const FADE_PER_AH = 0.2 / (3500 * 2);
/** Rest voltage of a cell by state of charge. */
const REST: readonly (readonly [number, number])[] = [
  [0, 2.55],
  [0.03, 2.9],
  [0.07, 3.08],
  [0.12, 3.19],
  [0.2, 3.232],
  [0.3, 3.262],
  [0.4, 3.281],
  [0.52, 3.291],
  [0.62, 3.303],
  [0.7, 3.323],
  [0.82, 3.331],
  [0.9, 3.336],
  [0.95, 3.346],
  [0.98, 3.372],
  [1, 3.44],
];

/** A bank at rest, of the age of this rig. */
export function restedBank(socFrac: number, tempC: number): BankState {
  return { chargeAh: socFrac * NEW_CAPACITY_AH, capacityAh: NEW_CAPACITY_AH, slowV: 0, tempC, holding: false, tailS: 0 };
}

/** State of charge, 0..1. */
export const socFracOf = (bank: BankState): number => bank.chargeAh / bank.capacityAh;

/** Rest voltage of the bank at a state of charge, V. */
export function restV(socFrac: number): number {
  for (let i = 1; i < REST.length; i++) {
    const [soc1, v1] = REST[i] ?? [1, 3.44];
    const [soc0, v0] = REST[i - 1] ?? [0, 2.55];
    if (socFrac <= soc1 || i === REST.length - 1) return CELLS * (v0 + ((v1 - v0) * (Math.max(0, Math.min(1, socFrac)) - soc0)) / (soc1 - soc0));
  }
  return CELLS * 3.44;
}

/** Energy stored between empty and a state of charge at rest, Wh (trapezoids of the rest voltage). */
export function storedWh(bank: BankState): number {
  const soc = Math.min(1, socFracOf(bank)),
    parts = 400;
  let sum = 0;
  for (let i = 0; i < parts; i++) sum += (restV((soc * i) / parts) + restV((soc * (i + 1)) / parts)) / 2;
  return (sum / parts) * soc * bank.capacityAh;
}

/** Current that power into the bank makes against an inner voltage and a resistance; the most that can be drawn where that is less than asked. */
function currentFor(powerW: number, innerV: number, ohm: number): number {
  return (Math.sqrt(Math.max(0, innerV * innerV + 4 * ohm * powerW)) - innerV) / (2 * ohm);
}

/**
 * One step of the bank on its bus: panels that could give `availableW`, loads that take `loadW` (dc, W), `airTempC` around it.
 * Near full the cells resist more and more, so the absorption voltage makes the current taper and surplus sun is left unused;
 * after the tail the charger only holds until the next dark. The protection board blocks charging under 0 deg C.
 */
export function stepBank(bank: BankState, availableW: number, loadW: number, airTempC: number, dtS: number): { bank: BankState; flow: BankFlow } {
  const soc = socFracOf(bank),
    innerV = restV(soc) + bank.slowV;
  const cold = Math.exp(0.019 * (25 - bank.tempC));
  const top = soc > 0.94 ? 1 + 60 * ((soc - 0.94) / 0.06) ** 2 : 1;
  const dischargeOhm = FAST_OHM * cold,
    chargeOhm = FAST_OHM * cold * top;
  const netW = availableW - loadW;
  const asked = currentFor(netW, innerV, netW > 0 ? chargeOhm : dischargeOhm);
  const allowed = bank.tempC < 0 ? 0 : ((bank.holding ? HOLD_V : ABSORB_V) - innerV) / chargeOhm;
  // However little the charger may give, the bank never has to carry more than the loads.
  const currentA = Math.min(asked, Math.max(allowed, currentFor(-loadW, innerV, dischargeOhm)));
  const voltageV = innerV + currentA * (currentA > 0 ? chargeOhm : dischargeOhm);
  const panelsW = Math.min(availableW, Math.max(0, voltageV * currentA + loadW));

  const storedA = currentA > 0 ? currentA * COULOMB_FRAC : currentA;
  const slowOhm = SLOW_OHM * cold;
  const slowV = bank.slowV + (currentA * slowOhm - bank.slowV) * (1 - Math.exp(-dtS / SLOW_S));
  const lossW = voltageV * currentA - restV(soc) * storedA;
  const tailing = !bank.holding && voltageV > ABSORB_V - 0.1 && currentA > 0 && currentA < TAIL_A;
  const tailS = tailing ? bank.tailS + dtS : 0;
  const charge = bank.chargeAh + (storedA * dtS) / 3600;
  return {
    bank: {
      chargeAh: Math.max(0, Math.min(bank.capacityAh, charge)),
      capacityAh: bank.capacityAh * (1 - (FADE_PER_AH * Math.abs(currentA) * dtS) / 3600 / NEW_CAPACITY_AH),
      slowV,
      // A box under the bunk: it follows the cabin over most of a day and warms itself a little.
      tempC: bank.tempC + ((airTempC - bank.tempC) / 54_000 + lossW / 95_000) * dtS,
      holding: availableW <= 0 ? false : bank.holding || tailS >= TAIL_HOLD_S,
      tailS,
    },
    flow: { currentA, voltageV, panelsW, lossW },
  };
}
