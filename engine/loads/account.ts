/** The powers at the bus as measured, W; null: not known. */
export interface Measured {
  /** Positive: charging. */
  readonly bankW: number | null;
  readonly panelsW: number | null;
  readonly chargersW: number;
  /** Behind the inverter where `minisplitIsAc`. */
  readonly minisplitW: number | null;
  readonly minisplitIsAc: boolean;
  /** The mini-split is measured, but silent now: what it draws cannot be told from the other loads. */
  readonly minisplitSilent: boolean;
  /** Sum of the measured loads but the mini-split, at the bus. */
  readonly measuredLoadsW: number;
}

/** What the inverter itself takes. `slope` is watts at the bus per watt behind it. */
export interface InverterModel {
  readonly idleW: number;
  readonly slope: number;
}

/** Where every watt goes. Everything is null that cannot be known. */
export interface Account {
  readonly loadsW: number | null;
  readonly minisplitW: number | null;
  readonly standingW: number | null;
  readonly inverterW: number | null;
  /** Sources less sinks: what the measured powers leave over. */
  readonly unaccountedW: number | null;
}

/**
 * The balance at the bus. The standing load is what is left when all else is taken off, and cannot be less than the loads measured in it;
 * what then does not add up is unaccounted, shown and kept out of learning. So is all of it while a measured mini-split is silent.
 */
export function account(m: Measured, inverter: InverterModel | null): Account {
  const minisplitW = m.minisplitW;
  const throughInverterW = minisplitW !== null && m.minisplitIsAc ? minisplitW : 0;
  const inverterW = inverter ? inverter.idleW + (inverter.slope - 1) * throughInverterW : 0;
  // With nothing measured of what flows, an inverter's usual draw is no measurement.
  if (m.bankW === null || m.panelsW === null) {
    return { loadsW: null, minisplitW, standingW: null, inverterW: minisplitW === null ? null : inverterW, unaccountedW: null };
  }
  const loadsW = m.panelsW + m.chargersW - m.bankW;
  const rest = loadsW - inverterW - (minisplitW ?? 0);
  if (m.minisplitSilent) return { loadsW, minisplitW, standingW: null, inverterW, unaccountedW: rest };
  const standingW = Math.max(rest, m.measuredLoadsW, 0);
  return { loadsW, minisplitW, standingW, inverterW, unaccountedW: rest - standingW };
}
