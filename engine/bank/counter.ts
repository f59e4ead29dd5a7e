import { clamp } from '../numeric/series.ts';
import type { Chemistry } from './chemistry.ts';
import { openCircuit, socAtVoltage } from './curve.ts';

/**
 * What is believed of the charge in the bank: a Kalman filter over the state of charge, which charge counting drives, and four slow states that
 * counting may be wrong by. Voltage, the device's own value and full charges are witnesses.
 * State of charge is a fraction of the capacity and may leave 0 to 1 a little: the overshoot tells of an error.
 *
 * The slow states part by what their error grows with: the offset with time, the loss with the charge put in, the scale with the swing. A full
 * charge after a full charge tells of the first two and nothing of the scale, which comes back to where it was; that takes a voltage at the
 * foot of the curve.
 */
export interface ChargeBelief {
  readonly socFrac: number;
  /** Added to every measured current, A. */
  readonly offsetA: number;
  readonly deviceBiasFrac: number;
  /** What a counted Ah weighs over its share of the rated capacity, less 1: capacity below its rating, or gain of the shunt. */
  readonly scaleFrac: number;
  /** Share of the charge put in that never comes out. */
  readonly lossFrac: number;
  /** Covariance of these five in this order, row by row. */
  readonly cov: readonly number[];
}

const N = 5;
const SOC = 0;
const OFFSET = 1;
const DEVICE = 2;
const SCALE = 3;
const LOSS = 4;

/** Spread of the offset before it is learned, and how far it wanders in a day, as a share of the capacity per hour (0.17 and 0.017 A on 280 Ah). */
const OFFSET_SD_PER_H = 0.0006;
const OFFSET_DAILY_PER_H = 0.00006;
/** Variance that counting a whole capacity's worth of charge adds: loads that come and go between two readings, steps of the sensor. */
const VARIANCE_PER_THROUGHPUT = 5e-6;
/** A device counts with a capacity and an offset of its own: its bias wanders with the charge that flows, and with time. */
const DEVICE_BIAS_SD = 0.04;
const DEVICE_VARIANCE_PER_THROUGHPUT = 1e-3;
const DEVICE_DAILY = 0.01;
const DEVICE_NOISE = 0.01;
/** A bank ages, and warms and cools, by so much of its capacity in a day. */
const SCALE_DAILY = 0.0005;
const SCALE_MOST = 0.5;

/** A belief from the first voltage alone: wide where the curve is flat. */
export function firstBelief(cellOcvV: number, capacityAh: number, c: Chemistry): ChargeBelief {
  const socFrac = socAtVoltage(c, cellOcvV);
  const sd = clamp(0.03 / openCircuit(c, socFrac).slopeV, 0.03, 0.25);
  const spreads = [sd, OFFSET_SD_PER_H * capacityAh, DEVICE_BIAS_SD, c.capacitySd, c.loss.sd];
  const cov = new Array<number>(N * N).fill(0);
  spreads.forEach((spread, i) => {
    cov[i * N + i] = spread * spread;
  });
  return { socFrac, offsetA: 0, deviceBiasFrac: 0, scaleFrac: 0, lossFrac: c.loss.usual, cov };
}

/** Counts `currentA` (positive charges) over `hours`; the belief widens with throughput and with the doubt about the slow states. */
export function countCharge(b: ChargeBelief, currentA: number, hours: number, capacityAh: number): ChargeBelief {
  const k = hours / capacityAh;
  const inA = currentA + b.offsetA;
  const kept = inA > 0 ? 1 - b.lossFrac : 1;
  const share = inA * k;
  const moved = share * (1 + b.scaleFrac) * kept;
  // How the slow states move the state of charge in this stretch.
  const f = [1, k * (1 + b.scaleFrac) * kept, 0, share * kept, inA > 0 ? -share * (1 + b.scaleFrac) : 0];
  const cov = [...b.cov];
  for (let j = 0; j < N; j++) {
    let sum = 0;
    for (let i = 0; i < N; i++) sum += (f[i] as number) * (b.cov[i * N + j] as number);
    cov[j] = sum;
  }
  let ss = 0;
  for (let j = 0; j < N; j++) ss += (cov[j] as number) * (f[j] as number);
  cov[0] = ss + VARIANCE_PER_THROUGHPUT * Math.abs(moved);
  for (let j = 1; j < N; j++) cov[j * N] = cov[j] as number;
  const days = hours / 24;
  const widen = (state: number, variance: number): void => {
    cov[state * N + state] = (cov[state * N + state] as number) + variance;
  };
  widen(OFFSET, (OFFSET_DAILY_PER_H * capacityAh) ** 2 * days);
  widen(DEVICE, DEVICE_DAILY ** 2 * days + DEVICE_VARIANCE_PER_THROUGHPUT * Math.abs(moved));
  widen(SCALE, SCALE_DAILY ** 2 * days);
  return { ...b, socFrac: clamp(b.socFrac + moved, -0.1, 1.1), cov };
}

/** Time without readings: the charge that went is only assumed, so the belief widens by what it may have been. */
export function countBlind(b: ChargeBelief, assumedA: number, hours: number, capacityAh: number): ChargeBelief {
  const next = countCharge(b, assumedA, hours, capacityAh);
  // A heater or a cooker may have run, or not: a current of a twenty-fifth of the capacity either way.
  const sd = (0.6 * Math.abs(assumedA) + 0.04 * capacityAh) * (hours / capacityAh);
  return withSocVariance(next, variance(next) + sd * sd);
}

/** A reading known only as a least amount (a clipped sensor): what may have been missed adds up, it does not average out. */
export function widened(b: ChargeBelief, addedSd: number): ChargeBelief {
  return withSocVariance(b, (socSd(b) + addedSd) ** 2);
}

const variance = (b: ChargeBelief): number => b.cov[0] as number;
const withSocVariance = (b: ChargeBelief, ss: number): ChargeBelief => ({ ...b, cov: [ss, ...b.cov.slice(1)] });

/** Which states a witness may move: 1 or 0 by state. */
type Moves = readonly [number, number, number, number, number];
const ALL: Moves = [1, 1, 1, 1, 1];
const CHARGE_AND_DEVICE: Moves = [1, 0, 1, 0, 0];

/**
 * One linear witness: z = h . x with variance `noise`; `limit` bounds how far the state of charge may move, and `moves` says which states it may
 * move at all. The covariance stays right for such a lessened gain.
 * @param h  weight of the state of charge and of the device's bias; the others are not seen
 */
function update(
  b: ChargeBelief,
  innovation: number,
  h: { readonly soc: number; readonly device: number },
  noise: number,
  limit: number,
  moves: Moves,
): ChargeBelief {
  const p: number[] = [];
  for (let i = 0; i < N; i++) p.push((b.cov[i * N] as number) * h.soc + (b.cov[i * N + DEVICE] as number) * h.device);
  const s = h.soc * (p[SOC] as number) + h.device * (p[DEVICE] as number) + noise;
  const wanted = Math.abs(((p[SOC] as number) / s) * innovation);
  const share = wanted > limit ? limit / wanted : 1;
  const g = p.map((value, i) => (share * (moves[i] as number) * value) / s);
  const cov = b.cov.map((value, at) => {
    const i = Math.floor(at / N);
    const j = at % N;
    const [gi, gj] = [g[i] as number, g[j] as number];
    return value - gi * (p[j] as number) - gj * (p[i] as number) + gi * gj * s;
  });
  return {
    socFrac: b.socFrac + (g[SOC] as number) * innovation,
    offsetA: b.offsetA + (g[OFFSET] as number) * innovation,
    deviceBiasFrac: b.deviceBiasFrac + (g[DEVICE] as number) * innovation,
    scaleFrac: clamp(b.scaleFrac + (g[SCALE] as number) * innovation, -SCALE_MOST, SCALE_MOST),
    lossFrac: b.lossFrac + (g[LOSS] as number) * innovation,
    cov,
  };
}

/** At the foot the curve is pinned by what empty means: there it is known this much better. */
const PINNED = 0.4;

/**
 * The voltage as a witness, once every few minutes: strong near the ends of the curve, next to nothing on its plateaus, and never better than
 * the curve itself is known. It says nothing of the shunt's offset; at the foot of the curve it tells of the capacity.
 * @param cellOcvV  voltage over a cell less what current and resistance explain
 * @param sagV      what was taken off for that, which is itself doubtful
 */
export function heedVoltage(b: ChargeBelief, cellOcvV: number, sagV: number, c: Chemistry): ChargeBelief {
  const topV = openCircuit(c, c.topFrac).voltageV;
  if (cellOcvV > topV && b.socFrac >= c.topFrac) return b;
  const saidFrac = socAtVoltage(c, cellOcvV);
  // The curve bends so much at its foot that only the slope where the voltage stands counts, not that where it was expected. A cold bank may
  // sag twice as much as is known: the voltage must lie at the foot even so.
  const foot = socAtVoltage(c, cellOcvV + Math.abs(sagV)) < c.footFrac;
  const { voltageV, slopeV } = openCircuit(c, foot ? saidFrac : b.socFrac);
  const innovation = foot ? saidFrac - b.socFrac : (Math.min(cellOcvV, topV) - voltageV) / slopeV;
  const curveSd = c.curveDoubt.socSd * (foot ? Math.max(PINNED, saidFrac / c.footFrac) : 1);
  const curveVariance = curveSd ** 2 + (c.curveDoubt.voltageSd / slopeV) ** 2;
  const noise = ((c.curveDoubt.restSd + 0.25 * Math.abs(sagV)) / slopeV) ** 2 + curveSd ** 2;
  const doubting = foot ? surprised(b, innovation, noise + curveVariance) : b;
  // What the curve itself may be wrong by does not average out, however often it is asked.
  if (variance(doubting) < curveVariance) return doubting;
  // Hysteresis and relaxation last for an hour, so a dozen witnesses in that hour count as one.
  const heard = update(doubting, innovation, { soc: 1, device: 0 }, 12 * noise, 0.01, [1, 0, 1, foot ? 1 : 0, 0]);
  // An empty bank has no less than nothing to give, whatever the count says.
  return foot ? { ...heard, socFrac: Math.max(0, heard.socFrac) } : heard;
}

/** How many spreads off a witness may be before something else must be wrong. */
const CREDIBLE = 3;
/** The most by which one surprise widens a spread. */
const SURPRISE_MOST = 1.5;

/** Where a trusted voltage lies further off than all known doubts explain, the charge and the capacity are less sure than was thought. */
function surprised(b: ChargeBelief, innovationFrac: number, witnessVariance: number): ChargeBelief {
  const excess = Math.abs(innovationFrac) / (CREDIBLE * Math.sqrt(variance(b) + witnessVariance));
  if (excess <= 1) return b;
  const factor = Math.min(SURPRISE_MOST, excess);
  const weight = (i: number): number => (i === SOC || i === SCALE ? factor : 1);
  return { ...b, cov: b.cov.map((value, at) => value * weight(Math.floor(at / N)) * weight(at % N)) };
}

/**
 * The device's own state of charge as a witness with a drift of its own. What neither the doubt about the count nor that about the device
 * explains is a jump or a fault, and is not heard. Counting as it does, it says nothing of the shunt's offset.
 */
export function heedDevice(b: ChargeBelief, deviceFrac: number): ChargeBelief {
  const innovation = deviceFrac - b.socFrac - b.deviceBiasFrac;
  const expected = variance(b) + 2 * (b.cov[DEVICE] as number) + (b.cov[DEVICE * N + DEVICE] as number) + DEVICE_NOISE ** 2;
  if (innovation ** 2 > CREDIBLE ** 2 * expected) return b;
  return update(b, innovation, { soc: 1, device: 1 }, DEVICE_NOISE ** 2, 0.02, CHARGE_AND_DEVICE);
}

/** The first value of a device: taken as it is where nothing better is known. */
export function meetDevice(b: ChargeBelief, deviceFrac: number): ChargeBelief {
  return update(b, deviceFrac - b.socFrac - b.deviceBiasFrac, { soc: 1, device: 1 }, DEVICE_NOISE ** 2, 1, ALL);
}

/** A device that set its value anew: what was known of its bias is void, and its level says nothing of ours. */
export function forgetDevice(b: ChargeBelief, deviceFrac: number): ChargeBelief {
  const cov = b.cov.map((value, at) => (Math.floor(at / N) === DEVICE || at % N === DEVICE ? 0 : value));
  cov[DEVICE * N + DEVICE] = DEVICE_BIAS_SD ** 2;
  return { ...b, deviceBiasFrac: deviceFrac - b.socFrac, cov };
}

/**
 * A full charge: the state of charge is `fullFrac` within `fullSd`, and the closing error tells of the offset and the loss. No more than full is
 * believed from then on: what still flows into a full bank is lost in it. What is known as well already is not heard again.
 */
export function heedFull(b: ChargeBelief, c: Chemistry, fullFrac = 1): ChargeBelief {
  const sd = c.fullSd + (1 - fullFrac) / 4;
  const heard = update(b, fullFrac - b.socFrac, { soc: 1, device: 0 }, sd ** 2, 1, ALL);
  return { ...heard, socFrac: Math.min(1, heard.socFrac), lossFrac: clamp(heard.lossFrac, 0, c.loss.most) };
}

/** Standard deviation of the state of charge, fraction. */
export const socSd = (b: ChargeBelief): number => Math.sqrt(Math.max(0, variance(b)));
