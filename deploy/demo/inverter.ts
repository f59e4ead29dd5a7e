/** Voltage at which the inverter switches off, and to which the bank must recover before it starts again. */
const CUTOFF_V = 23.2;
const RESTART_V = 26;
const RATED_W = 2000;

/** Whether the inverter runs, from whether it ran and the bank's voltage. */
export function inverterRuns(ran: boolean, voltageV: number): boolean {
  return ran ? voltageV > CUTOFF_V : voltageV > RESTART_V;
}

/** Dc power for an ac load, W: idle draw (it wanders with its warmth, `idleDrift` -1..1), a share and a square that grows with load. */
export function inverterDcW(acW: number, idleDrift: number): number {
  const served = Math.min(acW, RATED_W);
  return 20 + 2 * idleDrift + 1.055 * served + 2.4e-5 * served * served;
}
