import { describe, expect, it } from 'vitest';
import { dayRows } from '../../../engine/ledger/day.ts';
import { panelLossesOf } from '../../../engine/ledger/losses.ts';
import { type Judgement, judgePanels } from '../../../engine/panels/judgement.ts';
import { indexTrace, learnStop } from '../../../engine/panels/learn-stop.ts';
import { DayRow } from '../../../shared/schema/ledger.ts';
import { FIRST_DAY_MS, type Moment, panelDays, STOP } from '../../helpers/panel-days.ts';

const DAY_MS = 86_400_000;

/** What a refit judges at the end of some days. */
function judged(days: number, share: (moment: Moment) => number): { judgement: Judgement; bins: ReturnType<typeof panelDays> } {
  const bins = panelDays(days, share);
  const learned = learnStop(bins, STOP);
  return { bins, judgement: judgePanels(bins, indexTrace(bins, STOP, learned), STOP, learned, FIRST_DAY_MS + days * DAY_MS) };
}
const localDate = (tMs: number): string => new Date(tMs).toISOString().slice(0, 10);

describe("the panels' losses in the ledger of days", () => {
  it('H10: names shade that keeps its time, on the day it was judged and on no other', () => {
    const { judgement, bins } = judged(6, ({ hour }) => (hour > 14 && hour < 16 ? 0.3 : 0.85));
    const rows = dayRows(bins, { localDate, place: STOP.place, judgement }).map((row) => DayRow.parse(row));
    const last = rows.at(-1);
    expect(last?.panelLosses?.map((loss) => loss.kind)).toEqual(['shade-like']);
    expect(last?.panelLosses?.[0]?.lostWh).toBeGreaterThan(500);
    expect(last?.panelLosses?.[0]?.evidence).toContain('dim at this time on 6 of 6 days');
    expect(rows.slice(0, -1).every((row) => row.panelLosses === undefined)).toBe(true);
  });

  it('H13: names dirt once it costs more than a few percent, as a share of what came', () => {
    expect(judged(21, ({ day }) => (day < 8 ? 0.85 : 0.82)).judgement.dirt).toBeNull();
    const { judgement } = judged(21, ({ day }) => (day < 8 ? 0.85 : 0.68));
    const { panelLosses } = panelLossesOf(judgement, FIRST_DAY_MS + 20 * DAY_MS, FIRST_DAY_MS + 21 * DAY_MS, 4000);
    const dirt = panelLosses?.find((loss) => loss.kind === 'dirt');
    expect(Math.abs((dirt?.lostWh ?? 0) - 1000)).toBeLessThan(50);
  });

  it('has nothing to say of a clear day but an empty list, and none where nothing was judged', () => {
    const { judgement } = judged(6, () => 0.85);
    expect(panelLossesOf(judgement, FIRST_DAY_MS + 5 * DAY_MS, FIRST_DAY_MS + 6 * DAY_MS, 5000)).toEqual({ panelLosses: [] });
    expect(panelLossesOf(null, FIRST_DAY_MS, FIRST_DAY_MS + DAY_MS, 5000)).toEqual({});
  });
});
