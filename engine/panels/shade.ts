import type { EpochMs } from '../../shared/units.ts';
import { BIN_MS, type Bin } from '../types.ts';
import { type Judged, judgedLight } from './beam.ts';
import { daylightOf, type Stop } from './daylight.ts';
import { type Horizon, standsBefore } from './horizon.ts';
import type { PanelFit } from './learn-panels.ts';

/** Why panels gave less than a clear sky would have; `unknown` where no sign is plain. */
export type LossKind = 'full-bank' | 'horizon' | 'shade-like' | 'cloud' | 'unknown';

/** A stretch of a day in which the panels gave less, with what speaks for its kind. */
export interface Loss {
  readonly kind: LossKind;
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
  /** Against a clear sky with nothing in the way, Wh. */
  readonly lostWh: number;
  /** In words, for the screen. */
  readonly evidence: string;
}

/** What the losses of a day are told from. */
export interface LossInputs {
  readonly bins: readonly Bin[];
  readonly stop: Stop;
  readonly fit: PanelFit;
  readonly horizon: Horizon;
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
}

const DAY_MS = 86_400_000;
const BIN_H = BIN_MS / 3_600_000;
/** A smaller loss is no loss, share. */
const LEAST_LOSS = 0.15;
/** Dim and bright: an index under, and over this. */
const DIM = 0.6;
const BRIGHT = 0.8;
/** The same minutes of the day must be dim on so many days at this stop, and that must be much likelier with shade than with its weather (logarithm). */
const LOCKED_DAYS = 3;
const CONVINCING = 3;
/** How often shade is dim. */
const SHADE_DIM = 0.95;
/** Shade has an edge: bright to dim, or back, within this many ten minutes, on such a share of the days. */
const EDGE_BINS = 2;
const EDGE_SHARE = 0.6;
/** How far from the edge of the dim stretch it is looked for: a day moves the sun a little. */
const EDGE_NEAR = 2;
/** Cloud comes and goes: an index that moves this much from one ten minutes to the next, or from day to day. */
const RESTLESS = 0.08;

const slotOf = (tMs: EpochMs): number => Math.floor((tMs % DAY_MS) / BIN_MS);
const dayOf = (tMs: EpochMs): number => Math.floor(tMs / DAY_MS);

/** What was seen at this stop where the bank took all. */
interface Seen {
  /** Indexes by ten minutes of the UTC day, then by day. */
  readonly slots: ReadonlyMap<number, ReadonlyMap<number, number>>;
  /** Share of all that was dim. */
  readonly dimShare: number;
}

function seenOf(rows: readonly Judged[]): Seen {
  const slots = new Map<number, Map<number, number>>();
  for (const { tMs, index } of rows) {
    const days = slots.get(slotOf(tMs)) ?? new Map<number, number>();
    days.set(dayOf(tMs), index);
    slots.set(slotOf(tMs), days);
  }
  return { slots, dimShare: (rows.filter((row) => row.index < DIM).length + 1) / (rows.length + 5) };
}

interface Locked {
  readonly days: number;
  readonly of: number;
}

/** On how many of the days these ten minutes were dim; null where that is no habit of the place. */
function lockedAt({ slots, dimShare }: Seen, slot: number): Locked | null {
  const seen = [...(slots.get(slot)?.values() ?? [])];
  const dim = seen.filter((index) => index < DIM).length;
  const told = dim * Math.log(SHADE_DIM / dimShare) + (seen.length - dim) * Math.log((1 - SHADE_DIM) / (1 - dimShare));
  return dim >= LOCKED_DAYS && told > CONVINCING ? { days: dim, of: seen.length } : null;
}

/** The share of the days on which the light turned within twenty minutes near one end of the dim stretch. */
function edgeShare({ slots }: Seen, end: number, step: 1 | -1): number {
  const days = [...(slots.get(end)?.keys() ?? [])];
  const turned = days.filter((day) => {
    for (let slot = end - step * EDGE_NEAR; slot !== end + step * (EDGE_NEAR + 1); slot += step) {
      const inside = slots.get(slot)?.get(day);
      if (inside === undefined || inside >= DIM) continue;
      for (let k = 1; k <= EDGE_BINS; k++) if ((slots.get(slot + step * k)?.get(day) ?? 0) > BRIGHT) return true;
    }
    return false;
  });
  return days.length === 0 ? 0 : turned.length / days.length;
}

/** True where these ten minutes lie in a dim stretch that keeps its time and has a sharp edge. */
function isShade(seen: Seen, slot: number): Locked | null {
  const locked = lockedAt(seen, slot);
  if (locked === null) return null;
  const endOf = (step: 1 | -1): number => {
    let end = slot;
    while (lockedAt(seen, end + step) !== null) end += step;
    return end;
  };
  return Math.max(edgeShare(seen, endOf(1), 1), edgeShare(seen, endOf(-1), -1)) >= EDGE_SHARE ? locked : null;
}

/** Cloud moves, or other days were bright at this time. */
function isRestless({ slots }: Seen, slot: number, day: number, index: number): boolean {
  const near = [slot - 1, slot + 1].map((k) => slots.get(k)?.get(day)).filter((v) => v !== undefined);
  const others = [...(slots.get(slot) ?? [])].filter(([d]) => d !== day).map(([, v]) => v);
  return near.some((v) => Math.abs(v - index) > RESTLESS) || others.some((v) => v > BRIGHT);
}

/**
 * Tells where the light of a stretch of time went: into a full bank, behind the horizon, into shade that keeps its time and edge at this stop,
 * into cloud; and says when the signs are not plain. Dirt, which takes the same from every hour, is told from the gain (`dirt.ts`).
 */
export function explainLosses({ bins, stop, fit, horizon, fromMs, toMs }: LossInputs): Loss[] {
  const seen = seenOf(judgedLight(bins, stop, fit));
  const losses: Loss[] = [];
  const asked = daylightOf(
    bins.filter((bin) => bin.tMs >= fromMs && bin.tMs < toMs),
    stop,
    fit,
  );
  for (const row of asked) {
    const couldW = fit.gain * row.clearW;
    const lostW = couldW - row.panelsW;
    if (lostW < LEAST_LOSS * couldW) continue;
    const slot = slotOf(row.tMs);
    const shade = isShade(seen, slot);
    const [kind, evidence]: [LossKind, string] = !row.free
      ? ['full-bank', 'the bank takes no more']
      : standsBefore(horizon, row.sky)
        ? ['horizon', 'the sun is lower here than what stands before it']
        : shade
          ? ['shade-like', `dim at this time on ${shade.days} of ${shade.of} days here, with a sharp edge`]
          : isRestless(seen, slot, dayOf(row.tMs), row.panelsW / couldW)
            ? ['cloud', 'it comes and goes, and other days were bright at this time']
            : ['unknown', 'no sign is plain yet'];
    const last = losses.at(-1);
    if (last && last.kind === kind && row.tMs - last.toMs < BIN_MS) {
      losses[losses.length - 1] = { ...last, toMs: row.tMs + BIN_MS, lostWh: last.lostWh + lostW * BIN_H };
    } else {
      losses.push({ kind, fromMs: row.tMs, toMs: row.tMs + BIN_MS, lostWh: lostW * BIN_H, evidence });
    }
  }
  return losses;
}
