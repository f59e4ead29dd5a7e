import type { FullSign } from './full-charge.ts';

/** Points of a curve that rises with its first number. */
export type Points = readonly (readonly [x: number, y: number])[];

/**
 * What the engine must know of a kind of cell. A "cell" is one element in series: for lead-acid an element of 2 V, six to a 12 V battery.
 * Voltages are over one element, V; currents are shares of the capacity per hour (1/20 is the capacity in 20 h).
 */
export interface Chemistry {
  /** Rested voltage against state of charge, mean of the charge and discharge branches; a little past full. */
  readonly curve: Points;
  /** How far a bank's curve may lie beside the table: as a state of charge, and in V; and what relaxation leaves in a voltage, V. */
  readonly curveDoubt: { readonly socSd: number; readonly voltageSd: number; readonly restSd: number };
  /** Below this state of charge the curve falls so steeply that a voltage tells enough to judge the capacity by it. */
  readonly footFrac: number;
  /** Above this state of charge a cell that was just charged stands above its curve: its voltage only says "at least so much". */
  readonly topFrac: number;
  /** The voltage is a witness while the mean of the last hour lies between these currents. */
  readonly heardPerH: readonly [least: number, most: number];
  /** The signs of a full charge; the lowest of their voltages is what only a full bank, or one charged hard, shows. */
  readonly full: readonly FullSign[];
  /** A full charge noticed at a current still leaves `hours` times what that current is above `endsPerH` to come. */
  readonly tail: { readonly endsPerH: number; readonly hours: number };
  /** How well a full charge fixes the state of charge, fraction. */
  readonly fullSd: number;
  /** A charger that only keeps a full bank full holds it at this voltage or more. */
  readonly floatV: number;
  /** Where charging is held to a voltage: above `fromFrac` a bank takes what lifts it to `limitV` through `ohms` times its resistance. */
  readonly acceptance: { readonly fromFrac: number; readonly limitV: number; readonly ohms: number };
  /** Share of the charge put in that never comes out: usual, its spread, the most believed. */
  readonly loss: { readonly usual: number; readonly sd: number; readonly most: number };
  /** How far the capacity may lie beside its rating, and the gain of the shunt with it, fraction. */
  readonly capacitySd: number;
  /** Share of the charge that can be drawn, by cell temperature, deg C. */
  readonly usable: Points;
  /** Under this cell temperature charging is not allowed, deg C; null: it is at any. */
  readonly blockedBelowC: number | null;
  /** Peukert's exponent above the twenty-hour rate; 1: what can be drawn does not depend on the current. */
  readonly peukert: number;
  /** Voltage under which an element is empty, V. */
  readonly emptyV: number;
  /** A loaded element stands this much under the mean of its branches, V. */
  readonly branchV: number;
  /** Resistance with its share of cabling, times the capacity: ohm Ah. */
  readonly ohmAh: number;
  /** Mean voltage over the discharge, for energy. */
  readonly meanV: number;
}

/**
 * LiFePO4. The curve: rounded values of our own reading of several published slow-charge curves; cells differ by some 10 mV, branches by 5 to
 * 25 mV. Coulombic efficiency: 0.995 to 1 (Batteries 2019, 5(3), 57). What is usable in the cold: one supplier's figures of one small cell.
 * Charging from 0 deg C on (cell specifications); the core is colder than the case, where the sensor sits.
 */
const LIFEPO4: Chemistry = {
  curve: [
    [0, 2.5],
    [0.01, 2.7],
    [0.02, 2.83],
    [0.03, 2.93],
    [0.05, 3.06],
    [0.07, 3.13],
    [0.1, 3.195],
    [0.15, 3.22],
    [0.2, 3.242],
    [0.25, 3.26],
    [0.3, 3.274],
    [0.35, 3.283],
    [0.4, 3.289],
    [0.5, 3.296],
    [0.6, 3.303],
    [0.65, 3.308],
    [0.7, 3.316],
    [0.75, 3.325],
    [0.8, 3.33],
    [0.85, 3.333],
    [0.9, 3.336],
    [0.95, 3.34],
    [0.97, 3.346],
    [0.98, 3.355],
    [0.99, 3.385],
    [0.995, 3.415],
    [1, 3.45],
    [1.05, 3.8],
  ],
  curveDoubt: { socSd: 0.012, voltageSd: 0.01, restSd: 0.012 },
  footFrac: 0.1,
  topFrac: 0.98,
  heardPerH: [-100, 100],
  full: [
    { restedV: 3.5, tailPerH: 1 / 10, holdMs: 5 * 60_000 },
    { restedV: 3.43, tailPerH: 1 / 25, holdMs: 10 * 60_000 },
  ],
  tail: { endsPerH: 1 / 20, hours: 0.27 },
  fullSd: 0.002,
  floatV: 3.33,
  acceptance: { fromFrac: 0.9, limitV: 3.5, ohms: 1.5 },
  loss: { usual: 0.001, sd: 0.0015, most: 0.01 },
  capacitySd: 0.011,
  usable: [
    [-20, 0.44],
    [-10, 0.66],
    [0, 0.8],
    [25, 1],
  ],
  blockedBelowC: 2,
  peukert: 1,
  emptyV: 2.5,
  branchV: 0.01,
  ohmAh: 0.4,
  meanV: 3.28,
};

/**
 * Absorbed-glass-mat lead-acid, by element of 2 V. Rested voltages, 2.40 V absorption, 2.27 V float and the tail of a fiftieth of the capacity
 * are textbook values for these batteries; charging takes some 6 % more than it gives back. What a cold or hard-driven battery keeps back comes
 * again with warmth or rest, so neither moves the state of charge. A voltage under charge, or an hour after, is that of gassing, not of rest.
 */
const AGM: Chemistry = {
  curve: [
    [0, 1.93],
    [0.1, 1.955],
    [0.25, 1.99],
    [0.5, 2.042],
    [0.75, 2.092],
    [0.9, 2.122],
    [1, 2.143],
    [1.05, 2.2],
  ],
  curveDoubt: { socSd: 0.03, voltageSd: 0.01, restSd: 0.012 },
  footFrac: 0.2,
  topFrac: 0.97,
  heardPerH: [-1 / 15, 1 / 500],
  full: [{ restedV: 2.35, tailPerH: 1 / 50, holdMs: 20 * 60_000 }],
  tail: { endsPerH: 1 / 200, hours: 1.5 },
  fullSd: 0.01,
  floatV: 2.2,
  acceptance: { fromFrac: 0.75, limitV: 2.4, ohms: 9 },
  loss: { usual: 0.06, sd: 0.03, most: 0.2 },
  capacitySd: 0.04,
  usable: [
    [-20, 0.5],
    [-10, 0.65],
    [0, 0.8],
    [25, 1],
  ],
  blockedBelowC: null,
  peukert: 1.1,
  emptyV: 1.75,
  branchV: 0.005,
  ohmAh: 0.2,
  meanV: 2.02,
};

/**
 * Lithium nickel manganese cobalt oxide. The curve: rounded values of our own reading of published slow-discharge curves, which lie within
 * some 20 mV of each other; charged to 4.2 V or a little less; coulombic efficiency as for other lithium cells.
 */
const NMC: Chemistry = {
  curve: [
    [0, 3],
    [0.02, 3.2],
    [0.05, 3.36],
    [0.1, 3.45],
    [0.2, 3.55],
    [0.3, 3.61],
    [0.4, 3.65],
    [0.5, 3.7],
    [0.6, 3.78],
    [0.7, 3.88],
    [0.8, 3.98],
    [0.9, 4.07],
    [1, 4.17],
    [1.05, 4.25],
  ],
  curveDoubt: { socSd: 0.02, voltageSd: 0.01, restSd: 0.01 },
  footFrac: 0.1,
  topFrac: 0.99,
  heardPerH: [-100, 100],
  full: [{ restedV: 4.13, tailPerH: 1 / 25, holdMs: 10 * 60_000 }],
  tail: { endsPerH: 1 / 50, hours: 0.4 },
  fullSd: 0.01,
  floatV: 4.0,
  acceptance: { fromFrac: 0.85, limitV: 4.19, ohms: 1.5 },
  loss: { usual: 0.002, sd: 0.0015, most: 0.01 },
  capacitySd: 0.02,
  usable: [
    [-20, 0.6],
    [-10, 0.75],
    [0, 0.87],
    [25, 1],
  ],
  blockedBelowC: 2,
  peukert: 1,
  emptyV: 3,
  branchV: 0.005,
  ohmAh: 0.4,
  meanV: 3.68,
};

const TABLE = { LiFePO4: LIFEPO4, AGM, NMC } as const;

export type ChemistryName = keyof typeof TABLE;

/** The parameters of a rig's cells. */
export const chemistryOf = (rig: { readonly chemistry: ChemistryName }): Chemistry => TABLE[rig.chemistry];

/** Voltages over an element at which a charger stands, V: above the first it holds the panels back; at the second or more it keeps a full bank. */
export interface ChargerVolts {
  readonly limitV: number;
  readonly floatV: number;
}

/** The lowest voltage of a full charge is one that only a full bank, or a bank being charged hard, shows. */
export const chargerVolts = (c: Chemistry): ChargerVolts => ({ limitV: Math.min(...c.full.map((sign) => sign.restedV)), floatV: c.floatV });
