import type { EpochMs } from '../../shared/units.ts';
import type { Bin } from '../types.ts';
import { steady } from './learn-panels.ts';

/** Clear levels that have fallen and stayed down. */
export interface Dirt {
  /** Lost against the best earlier week, share. */
  readonly lossFrac: number;
  readonly days: number;
  readonly evidence: string;
}

const DAY_MS = 86_400_000;
/** Dust costs a few percent: less than this is not worth a word, share. */
const LEAST_LOSS = 0.08;
/** It must have lasted this long, on so many clear days; the level before it from as many. */
const LAST_MS = 10 * DAY_MS;
const LEAST_DAYS = 5;
/** A day's clear level needs an hour and a half of clear sky. */
const LEAST_BINS = 9;
/** Clear: within this of the day's own best hours. */
const NEAR = 0.1;
/** Dirt takes alike from every part of the day: the parts may differ by this much. */
const FLAT = 0.06;

interface ClearDay {
  readonly tMs: EpochMs;
  readonly level: number;
  /** Level of the first and the last third of the clear hours over that of the middle. */
  readonly sides: number;
}

const median = (values: readonly number[]): number => {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] as number;
};

function clearDays(bins: readonly Bin[]): ClearDay[] {
  const free = bins.flatMap(({ tMs, panelIndex: index, curtailedFrac }) => (index !== null && index > 0 && curtailedFrac === 0 ? [{ tMs, index }] : []));
  const days = new Map<number, { tMs: number; index: number }[]>();
  for (const row of steady(free)) days.set(Math.floor(row.tMs / DAY_MS), [...(days.get(Math.floor(row.tMs / DAY_MS)) ?? []), row]);
  return [...days.values()].flatMap((rows) => {
    const sorted = rows.map((row) => row.index).sort((a, b) => a - b);
    const best = sorted[Math.floor(0.8 * (sorted.length - 1))] as number;
    const clear = rows.filter((row) => Math.abs(row.index / best - 1) < NEAR);
    if (clear.length < LEAST_BINS) return [];
    const third = Math.floor(clear.length / 3);
    const levelOf = (part: readonly { index: number }[]): number => median(part.map((row) => row.index));
    const sides = levelOf([...clear.slice(0, third), ...clear.slice(-third)]) / levelOf(clear.slice(third, -third));
    return [{ tMs: (rows[0] as { tMs: number }).tMs, level: levelOf(clear), sides }];
  });
}

/**
 * Looks for dirt in the clear levels of the last weeks (the bins of every stop: dirt comes along). Null where nothing is to be said: too few
 * clear days, a loss of less than 8 %, one that has not lasted, or one that is not alike over the day (shade or lean).
 */
export function findDirt(bins: readonly Bin[], atMs: EpochMs, sinceMs: EpochMs): Dirt | null {
  const days = clearDays(bins);
  const now = days.filter((day) => day.tMs >= atMs - LAST_MS);
  const before = days.filter((day) => day.tMs < atMs - LAST_MS);
  if (now.length < LEAST_DAYS || before.length < LEAST_DAYS) return null;
  const weeks = before.slice(LEAST_DAYS - 1).map((_, i) => median(before.slice(i, i + LEAST_DAYS).map((day) => day.level)));
  const lossFrac = 1 - median(now.map((day) => day.level)) / Math.max(...weeks);
  const flat = Math.abs(median(now.map((day) => day.sides)) - median(before.map((day) => day.sides))) < FLAT;
  // The best of the days now must be down as well: one bright day tells that the panels are clean.
  const brightest = Math.max(...now.map((day) => day.level));
  if (lossFrac < LEAST_LOSS || !flat || 1 - brightest / Math.max(...weeks) < LEAST_LOSS / 2) return null;
  const moved = sinceMs > atMs - LAST_MS ? ', and the same after moving' : '';
  return { lossFrac, days: now.length, evidence: `${Math.round(100 * lossFrac)} % less on ${now.length} clear days, alike from morning to evening${moved}` };
}
