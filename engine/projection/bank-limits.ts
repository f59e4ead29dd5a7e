import { type Chemistry, chemistryOf } from '../bank/chemistry.ts';
import { blockedRemark, chargeBlocked, coldFloorFrac } from '../bank/cold.ts';
import { clamp, lowPass, meanOf } from '../numeric/series.ts';
import type { Course, Span } from './inputs.ts';
import type { Snapshot } from './snapshot.ts';

/** What cold, or the bank's own board, takes off the bank in a span. */
export interface BankLimits {
  /** The floor that can be reached: the owner's, or higher. */
  readonly floorFrac: number;
  /** The lowest state of charge that can be reached, whatever the floor: what cold or a large current keeps back ends there. */
  readonly leastFrac: number;
  /** Steps in which the bank takes no charge; null: none. */
  readonly blocked: Uint8Array | null;
  /** The same in words, for the person. */
  readonly doubts: readonly string[];
}

/** How slowly a bank in its box follows what is around it, h: some 50 kJ/K (45 kg of cells) behind 1.2 W/K. */
const BANK_H = 12;
/** A board that has seen its bank full allows no charging until the bank has given some of it away again. */
const FULL_FRAC = 0.9;
/** Under this outside temperature it matters that the bank's is not known, deg C. */
const COLD_OUTSIDE_C = 5;

export function bankLimits(s: Snapshot, course: Course, span: Span): BankLimits {
  const chemistry = chemistryOf(s.rig);
  const temps = bankCourse(s, course, span);
  const coldestC = temps === null ? null : temps.reduce((a, b) => Math.min(a, b));
  const leastFrac = coldFloorFrac(chemistry, 0, coldestC, drawnPerH(s));
  const floorFrac = Math.max(s.rig.floorFrac, leastFrac);
  const forbidden = s.chargeAllowed === false && s.socFrac < FULL_FRAC;
  const blocked = blockedSteps(chemistry, temps, span.steps, forbidden);
  const doubts: string[] = [];
  if (s.bankC !== null && chargeBlocked(chemistry, s.bankC, forbidden)) doubts.push(blockedRemark(s.bankC));
  else if (forbidden) doubts.push("the bank's own board allows no charging; none is expected until it does");
  else if (blocked?.includes(1) && coldestC !== null)
    doubts.push(`the bank may cool to ${coldestC.toFixed(1)} deg C; then charging is probably blocked by cold`);
  if (floorFrac > s.rig.floorFrac) {
    doubts.push(`${chemistry.peukert > 1 ? 'cold or a large load' : 'cold'} keeps ${Math.round(100 * floorFrac)} % of the bank back; that counts as the floor`);
  }
  if (s.bankC === null && s.outsideC !== null && s.outsideC < COLD_OUTSIDE_C) doubts.push("no bank temperature, so what cold takes off the bank isn't known");
  return { floorFrac, leastFrac, blocked, doubts };
}

/**
 * Temperature of the bank by step, deg C; null where it is not known now. It follows a mean of cabin and outside slowly; which mean, its own
 * temperature between the two tells. Without weather it stays as it is.
 */
function bankCourse(s: Snapshot, course: Course, span: Span): Float64Array | null {
  if (s.bankC === null) return null;
  const temps = new Float64Array(span.steps + 1).fill(s.bankC);
  if (!course.hasWeather) return temps;
  const aroundC = s.outsideLagC ?? (course.outsideC[0] as number);
  const cabinC = s.cabinC ?? aroundC;
  const share = Math.abs(cabinC - aroundC) > 3 ? clamp((s.bankC - aroundC) / (cabinC - aroundC), 0, 1) : 0.5;
  for (let k = 0; k < span.steps; k++) {
    const outsideC = course.outsideC[k] as number;
    temps[k + 1] = lowPass(temps[k] as number, outsideC + share * (cabinC - outsideC), span.stepMs / 3_600_000, BANK_H);
  }
  return temps;
}

/** Blocked from the step in which the cells are too cold until they are warm enough again. A board that forbids charging for another cause does so throughout. */
function blockedSteps(c: Chemistry, temps: Float64Array | null, steps: number, forbidden: boolean): Uint8Array | null {
  const isCold = temps !== null && chargeBlocked(c, temps[0] as number, forbidden);
  if (forbidden && !isCold) return new Uint8Array(steps).fill(1);
  if (temps === null) return null;
  const blocked = new Uint8Array(steps);
  let was = isCold;
  for (let k = 0; k < steps; k++) {
    was = chargeBlocked(c, temps[k] as number, was);
    blocked[k] = was ? 1 : 0;
  }
  return blocked;
}

/** Mean current of the hours in which the rig usually lives on its bank, as a share of the capacity per hour; 0 before that is known. */
function drawnPerH(s: Snapshot): number {
  const drawn = (s.learned?.habitA ?? []).map((a) => (a !== null && a < 0 ? -a : null));
  return (meanOf(drawn) ?? 0) / s.rig.capacityAh;
}
