import type { Remark } from '../../shared/schema/reading.ts';

/** 2024-01-01 UTC: no board that Dawnhold reads kept its time before it. */
export const EARLIEST_MS = Date.UTC(2024, 0, 1);
/** How far a board's clock may run ahead of arrival and still be believed. */
export const AHEAD_MS = 120_000;

export interface DeviceTime {
  /** Time of the reading, epoch ms; null when arrival counts instead. */
  readonly timeMs: number | null;
  /** What the board's clock says, believed or not, for showing its skew; null when that cannot be told. */
  readonly clockMs: number | null;
  readonly remark: Remark | null;
}

const NONE: DeviceTime = { timeMs: null, clockMs: null, remark: null };
/** Epoch units by their length in ms: s, ms, us, ns. Their windows of plausible numbers lie a thousandfold apart, so at most one fits. */
const UNIT_MS = [1000, 1, 1e-3, 1e-6] as const;
const ISO = /^(\d{4}-\d\d-\d\d)(?:[Tt ](\d\d:\d\d(?::\d\d(?:\.\d{1,9})?)?)\s?([Zz]|[+-]\d\d:?\d\d)?)?$/;

/** True for a time that a reading may carry: from 2024 to two minutes after arrival. */
export function isPlausible(timeMs: number, arrivalMs: number): boolean {
  return timeMs >= EARLIEST_MS && timeMs <= arrivalMs + AHEAD_MS;
}

function judged(clockMs: number, arrivalMs: number): DeviceTime {
  if (!Number.isFinite(clockMs)) return { timeMs: null, clockMs: null, remark: 'time-implausible' };
  const rounded = Math.round(clockMs);
  return isPlausible(rounded, arrivalMs) ? { timeMs: rounded, clockMs: rounded, remark: null } : { timeMs: null, clockMs: rounded, remark: 'time-implausible' };
}

function epoch(value: number, arrivalMs: number): DeviceTime {
  for (const unitMs of UNIT_MS) if (isPlausible(value * unitMs, arrivalMs)) return judged(value * unitMs, arrivalMs);
  const size = Math.abs(value);
  return judged(value * (size < 1e11 ? 1000 : size < 1e14 ? 1 : size < 1e17 ? 1e-3 : 1e-6), arrivalMs);
}

function iso(text: string, arrivalMs: number): DeviceTime {
  const match = ISO.exec(text);
  if (!match) return { timeMs: null, clockMs: null, remark: 'time-implausible' };
  const [, day, clock = '00:00', zone] = match;
  // Without a zone nobody knows which; taken as UTC only to show how far it lies from arrival, so the person sees the whole hours.
  if (zone === undefined) {
    const clockMs = Date.parse(`${day}T${clock}Z`);
    return { timeMs: null, clockMs: Number.isFinite(clockMs) ? clockMs : null, remark: 'time-without-zone' };
  }
  const colon = /^[+-]\d{4}$/.test(zone) ? `${zone.slice(0, 3)}:${zone.slice(3)}` : zone.toUpperCase();
  return judged(Date.parse(`${day}T${clock}${colon}`), arrivalMs);
}

/** A board's own time: epoch s, ms, us or ns told apart by magnitude, or ISO 8601 with a zone. Absent, null and '' are no time and no fault. Cannot throw. */
export function readDeviceTime(value: unknown, arrivalMs: number): DeviceTime {
  if (value === undefined || value === null || value === '') return NONE;
  if (typeof value === 'number') return epoch(value, arrivalMs);
  if (typeof value !== 'string' || value.length > 64) return { timeMs: null, clockMs: null, remark: 'time-implausible' };
  const text = value.trim();
  return /^-?\d+(\.\d+)?$/.test(text) ? epoch(Number(text), arrivalMs) : iso(text, arrivalMs);
}
