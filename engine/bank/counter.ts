import { clamp } from '../numeric/series.ts';
import { openCircuit, socAtVoltage } from './lifepo4.ts';

/**
 * What is believed of the charge in the bank: a Kalman filter over [state of charge, current offset, bias of the device's own value].
 * Charge counting drives it; voltage, the device's value and full charges are witnesses.
 * State of charge is a fraction of the capacity and may leave 0 to 1 a little: the overshoot tells of an error.
 */
export interface ChargeBelief {
  readonly socFrac: number;
  /** Added to every measured current, A. */
  readonly offsetA: number;
  readonly deviceBiasFrac: number;
  /** Upper triangle of the covariance: [ss, so, sd, oo, od, dd]. */
  readonly cov: readonly [number, number, number, number, number, number];
}

/** Spread of the offset before it is learned, as a share of the capacity per hour (0.17 A on 280 Ah). */
const OFFSET_SD_PER_H = 0.0006;
/** Variance that counting a whole capacity's worth of charge adds: gain, efficiency and sampling errors, about a point. */
const VARIANCE_PER_THROUGHPUT = 1e-4;
const DEVICE_BIAS_SD = 0.04;
const DEVICE_NOISE = 0.01;

/** A belief from the first voltage alone: wide where the curve is flat. */
export function firstBelief(cellOcvV: number, capacityAh: number): ChargeBelief {
  const socFrac = socAtVoltage(cellOcvV);
  const sd = clamp(0.03 / openCircuit(socFrac).slopeV, 0.03, 0.25);
  const offsetSd = OFFSET_SD_PER_H * capacityAh;
  return { socFrac, offsetA: 0, deviceBiasFrac: 0, cov: [sd * sd, 0, 0, offsetSd * offsetSd, 0, DEVICE_BIAS_SD ** 2] };
}

/** Counts `currentA` (positive charges) over `hours`; the belief widens with throughput and with the doubt about the offset. */
export function countCharge(b: ChargeBelief, currentA: number, hours: number, capacityAh: number): ChargeBelief {
  const k = hours / capacityAh;
  const [ss, so, sd, oo, od, dd] = b.cov;
  const moved = (currentA + b.offsetA) * k;
  return {
    socFrac: clamp(b.socFrac + moved, -0.1, 1.1),
    offsetA: b.offsetA,
    deviceBiasFrac: b.deviceBiasFrac,
    cov: [
      ss + 2 * k * so + k * k * oo + VARIANCE_PER_THROUGHPUT * Math.abs(moved),
      so + k * oo,
      sd + k * od,
      oo + ((OFFSET_SD_PER_H * capacityAh * 0.15) ** 2 * hours) / 24,
      od,
      dd + (0.01 ** 2 * hours) / 24,
    ],
  };
}

/** Time without readings: the charge that went is only assumed, so the belief widens by what it may have been. */
export function countBlind(b: ChargeBelief, assumedA: number, hours: number, capacityAh: number): ChargeBelief {
  const next = countCharge(b, assumedA, hours, capacityAh);
  // A heater or a cooker may have run, or not: a current of a twenty-fifth of the capacity either way.
  const sd = (0.6 * Math.abs(assumedA) + 0.04 * capacityAh) * (hours / capacityAh);
  const [ss, ...rest] = next.cov;
  return { ...next, cov: [ss + sd * sd, ...rest] };
}

/** A reading known only as a least amount (a clipped sensor): what may have been missed adds up, it does not average out. */
export function widened(b: ChargeBelief, addedSd: number): ChargeBelief {
  const [ss, ...rest] = b.cov;
  return { ...b, cov: [(Math.sqrt(Math.max(0, ss)) + addedSd) ** 2, ...rest] };
}

type Triple = readonly [number, number, number];

/**
 * One linear witness: z = h . x with variance `variance`; `limit` bounds how far the state of charge may move, and `moves` says which of
 * [state of charge, offset, device bias] it may move at all. The covariance stays right for such a lessened gain.
 */
function update(b: ChargeBelief, innovation: number, h: Triple, variance: number, limit: number, moves: Triple = [1, 1, 1]): ChargeBelief {
  const [ss, so, sd, oo, od, dd] = b.cov;
  const ps = ss * h[0] + so * h[1] + sd * h[2];
  const po = so * h[0] + oo * h[1] + od * h[2];
  const pd = sd * h[0] + od * h[1] + dd * h[2];
  const s = h[0] * ps + h[1] * po + h[2] * pd + variance;
  const wanted = Math.abs((ps / s) * innovation);
  const share = wanted > limit ? limit / wanted : 1;
  const [gs, go, gd] = [(share * moves[0] * ps) / s, (share * moves[1] * po) / s, (share * moves[2] * pd) / s];
  return {
    socFrac: b.socFrac + gs * innovation,
    offsetA: b.offsetA + go * innovation,
    deviceBiasFrac: b.deviceBiasFrac + gd * innovation,
    cov: [
      ss - 2 * gs * ps + gs * gs * s,
      so - gs * po - go * ps + gs * go * s,
      sd - gs * pd - gd * ps + gs * gd * s,
      oo - 2 * go * po + go * go * s,
      od - go * pd - gd * po + go * gd * s,
      dd - 2 * gd * pd + gd * gd * s,
    ],
  };
}

/** How far the curve of this bank may lie beside the table: as a state of charge, and in V. */
const CURVE_SD = 0.012;
const CURVE_SD_V = 0.01;
/** A cell being charged, or just charged, stands above its curve: beyond this its voltage only says "at least so much"; the full charge tells the rest. */
const TOP_FRAC = 0.98;

/**
 * The voltage as a witness, once every few minutes: strong near the ends of the curve, next to nothing on its plateaus, and never better than
 * the curve itself is known. It says nothing of the shunt's offset.
 * @param cellOcvV  voltage over a cell less what current and resistance explain
 * @param sagV      what was taken off for that, which is itself doubtful
 */
export function heedVoltage(b: ChargeBelief, cellOcvV: number, sagV: number): ChargeBelief {
  const { voltageV, slopeV } = openCircuit(b.socFrac);
  const topV = openCircuit(TOP_FRAC).voltageV;
  if (cellOcvV > topV && b.socFrac >= TOP_FRAC) return b;
  // What the curve itself may be wrong by does not average out, however often it is asked.
  if (b.cov[0] < CURVE_SD ** 2 + (CURVE_SD_V / slopeV) ** 2) return b;
  // Hysteresis and relaxation last for an hour, so a dozen witnesses in that hour count as one.
  const noiseV = 0.012 + 0.25 * Math.abs(sagV);
  return update(b, Math.min(cellOcvV, topV) - voltageV, [slopeV, 0, 0], 12 * (noiseV * noiseV + (CURVE_SD * slopeV) ** 2), 0.01, [1, 0, 1]);
}

/** How many spreads off a device may be and still be believed. */
const CREDIBLE = 3;

/**
 * The device's own state of charge as a witness with a drift of its own. What neither the doubt about the count nor that about the device
 * explains is a jump or a fault, and is not heard. Counting as it does, it says nothing of the shunt's offset.
 */
export function heedDevice(b: ChargeBelief, deviceFrac: number): ChargeBelief {
  const innovation = deviceFrac - b.socFrac - b.deviceBiasFrac;
  const [ss, , sd, , , dd] = b.cov;
  if (innovation ** 2 > CREDIBLE ** 2 * (ss + 2 * sd + dd + DEVICE_NOISE ** 2)) return b;
  return update(b, innovation, [1, 0, 1], DEVICE_NOISE ** 2, 0.02, [1, 0, 1]);
}

/** The first value of a device: taken as it is where nothing better is known. */
export function meetDevice(b: ChargeBelief, deviceFrac: number): ChargeBelief {
  return update(b, deviceFrac - b.socFrac - b.deviceBiasFrac, [1, 0, 1], DEVICE_NOISE ** 2, 1);
}

/**
 * A full charge: the state of charge is `fullFrac` within half a point, and the closing error tells of the offset. No more than full is believed
 * from then on: what still flows into a full bank is lost in it.
 */
export function heedFull(b: ChargeBelief, fullFrac = 1): ChargeBelief {
  const heard = update(b, fullFrac - b.socFrac, [1, 0, 0], (0.005 + (1 - fullFrac) / 4) ** 2, 1);
  return { ...heard, socFrac: Math.min(1, heard.socFrac) };
}

/** Standard deviation of the state of charge, fraction. */
export const socSd = (b: ChargeBelief): number => Math.sqrt(Math.max(0, b.cov[0]));
