import { z } from 'zod';
import type { NightPort } from '../../dashboard/server/ports.ts';
import { BIN_MS, type Bin } from '../../engine/types.ts';
import { fromCivil } from '../../shared/civil.ts';
import { AppError } from '../../shared/errors.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { NightCurves, NightDetail, NightPoint } from '../../shared/schema/night-book.ts';
import { NightRow, SocQuantiles } from '../../shared/schema/projection.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { AlarmLogReader } from './alarm-log.ts';
import type { Announced } from './announced.ts';
import type { BinHistory } from './bins.ts';
import type { NightNotes } from './night-notes.ts';
import { binsBetween } from './past-bins.ts';

/** Points of a small picture, at most. */
const CURVE_POINTS = 48;
/** Events of a night, at most; the newest of them. */
const MOST_EVENTS = 300;
/** What is read of a stored projection. */
const Said = z.object({ tMs: z.number(), lowPoint: SocQuantiles, floorPct: z.number() });
type Said = z.infer<typeof Said>;

export interface NightPortOptions {
  readonly store: RigStore;
  readonly bins: BinHistory;
  readonly notes: NightNotes;
  readonly alarmLog: AlarmLogReader;
  /** Null where no load can be announced. */
  readonly announced: Announced | null;
  timeZone(): string;
  /** Ledger rows of nights that ended in the range, oldest first. */
  nights(fromMs: EpochMs, toMs: EpochMs): Promise<readonly NightRow[]>;
}

/** What is kept of past nights beside their rows: curves, what was said, events, loads, notes. */
export function createNightPort({ store, bins, notes, alarmLog, announced, timeZone, nights }: NightPortOptions): NightPort {
  async function rowOf(nightId: string): Promise<NightRow> {
    const body = await store.get('night', nightId);
    const row = body === null ? undefined : NightRow.safeParse(JSON.parse(body)).data;
    if (!row) throw new AppError('NOT_FOUND', 'no such night is kept; GET /api/nights lists those that are');
    return row;
  }

  /** Projections made through a night about it, oldest first: once it is over for the engine, they speak of the next one. */
  async function saidIn({ startMs, endMs }: NightRow): Promise<Said[]> {
    const stored = await store.list('projection', startMs, endMs + 1);
    return stored.flatMap(({ body }) => Said.safeParse(JSON.parse(body)).data ?? []).filter(({ lowPoint }) => lowPoint.tMs <= endMs + BIN_MS);
  }

  return {
    async nightCurves(fromMs, toMs) {
      const rows = await nights(fromMs, toMs);
      const curves: NightCurves = [];
      // A night at a time: months of bins at once would hold up everything else.
      for (const row of rows) curves.push(curveOf(row, await binsBetween(bins, store, row.startMs - BIN_MS, row.endMs)));
      return curves;
    },
    async night(nightId): Promise<NightDetail> {
      const row = await rowOf(nightId);
      const { fromMs, toMs } = noonToNoon(row, timeZone());
      const [past, said, loads, log, note, placeName] = await Promise.all([
        binsBetween(bins, store, fromMs, toMs),
        saidIn(row),
        announced?.within(fromMs, toMs) ?? [],
        alarmLog.search({ fromMs, toMs, text: '', alarm: '', limit: MOST_EVENTS }),
        notes.note(nightId),
        notes.nameOf(row.place),
      ]);
      return {
        row,
        fromMs,
        toMs,
        points: past.map(pointOf),
        floorPct: said.at(-1)?.floorPct ?? null,
        said: said.map(({ tMs, lowPoint: { p10Pct, p50Pct, p90Pct, tMs: lowPointMs } }) => ({ tMs, p10Pct, p50Pct, p90Pct, lowPointMs })),
        loads,
        events: log.lines.toReversed(),
        note,
        placeName,
      };
    },
    placeNames: notes.places,
    nightNotes: notes.notes,
  };
}

/** From the noon before a night to the noon after it by the zone's clock; further where the rig has changed zones since and the night would not fit. */
function noonToNoon({ nightId, startMs, endMs }: NightRow, zone: string): { fromMs: EpochMs; toMs: EpochMs } {
  const [year = 0, month = 0, day = 0] = nightId.split('-').map(Number);
  return { fromMs: Math.min(fromCivil(year, month, day, 12, zone), startMs), toMs: Math.max(fromCivil(year, month, day + 1, 12, zone), endMs) };
}

/** The state of charge of a night in means over as many bins as it takes; `past` oldest first. */
function curveOf({ nightId, startMs, endMs }: NightRow, past: readonly Bin[]): NightCurves[number] {
  const fromMs = BIN_MS * Math.floor(startMs / BIN_MS);
  const stepMs = BIN_MS * Math.max(1, Math.ceil((endMs - fromMs) / BIN_MS / CURVE_POINTS));
  const sums = Array.from({ length: Math.ceil((endMs - fromMs) / stepMs) }, () => ({ sum: 0, count: 0 }));
  for (const { tMs, socFrac } of past) {
    const cell = sums[Math.floor((tMs - fromMs) / stepMs)];
    if (cell === undefined || socFrac === null) continue;
    cell.sum += 100 * socFrac;
    cell.count += 1;
  }
  return { nightId, fromMs, stepMs, socPct: sums.map(({ sum, count }) => (count === 0 ? null : Math.round((10 * sum) / count) / 10)) };
}

function pointOf({ tMs, socFrac, panelsW, chargersW, minisplitW, standingW, inverterW, surplusW, outsideC, cabinC, setpointC }: Bin): NightPoint {
  const socPct = socFrac === null ? null : 100 * socFrac;
  return { tMs, socPct, panelsW, chargersW, minisplitW, standingW, inverterW, surplusW, outsideC, cabinC, setpointC };
}
