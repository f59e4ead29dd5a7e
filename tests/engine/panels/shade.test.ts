import { describe, expect, it } from 'vitest';
import { judgedLight } from '../../../engine/panels/beam.ts';
import { learnHorizon } from '../../../engine/panels/learn-horizon.ts';
import { learnPanels } from '../../../engine/panels/learn-panels.ts';
import { explainLosses, type LossKind } from '../../../engine/panels/shade.ts';
import type { Bin } from '../../../engine/types.ts';
import { FIRST_DAY_MS, type Moment, panelDays, STOP, unsteady } from '../../helpers/panel-days.ts';

const DAY_MS = 86_400_000;

/** The losses of the last of some days, from nine to five by the sun. */
function lossesOf(bins: readonly Bin[], days: number, stop = STOP) {
  const fit = learnPanels(bins, stop);
  const horizon = learnHorizon(judgedLight(bins, stop, fit));
  const lastMs = FIRST_DAY_MS + (days - 1) * DAY_MS;
  return explainLosses({ bins, stop, fit, horizon, fromMs: lastMs + 9 * 3_600_000, toMs: lastMs + 17 * 3_600_000 });
}
const kindsOf = (...args: Parameters<typeof lossesOf>): LossKind[] => [...new Set(lossesOf(...args).map((loss) => loss.kind))];

/** A mast from two to four. */
const mast = ({ hour }: Moment): number => (hour > 14 && hour < 16 ? 0.3 : 0.85);
const cloud = ({ day, hour }: Moment): number => 0.85 * (1 - 0.8 * unsteady(day * 91 + Math.floor(hour * 6)));

describe('where the light of a day went', () => {
  it('nowhere on a clear day', () => {
    expect(
      lossesOf(
        panelDays(5, () => 0.85),
        5,
      ),
    ).toEqual([]);
  });

  it('H08: into a full bank, whatever the sky', () => {
    const bins = panelDays(
      5,
      ({ hour }) => (hour > 12 && hour < 15 ? 0.04 : 0.85),
      {},
      ({ hour }) => ({ curtailedFrac: hour > 12 && hour < 15 ? 1 : 0 }),
    );
    const losses = lossesOf(bins, 5);
    expect(losses.map((loss) => loss.kind)).toEqual(['full-bank']);
    expect(losses[0]?.lostWh).toBeGreaterThan(1500);
    expect(losses[0]?.toMs).toBe((losses[0]?.fromMs ?? 0) + 3 * 3_600_000);
  });

  it('H10: into shade that keeps its time and its edge at this stop', () => {
    const losses = lossesOf(panelDays(5, mast), 5);
    expect(losses.map((loss) => loss.kind)).toEqual(['shade-like']);
    expect(losses[0]?.evidence).toBe('dim at this time on 5 of 5 days here, with a sharp edge');
  });

  it('H10: which is not known again after a move', () => {
    expect(kindsOf(panelDays(5, mast), 5, { ...STOP, sinceMs: FIRST_DAY_MS + 4 * DAY_MS })).not.toContain('shade-like');
  });

  it('H10: into cloud where it comes and goes', () => {
    const unsettled = lossesOf(panelDays(8, cloud), 8);
    expect(unsettled.some((loss) => loss.kind === 'shade-like' || loss.kind === 'horizon')).toBe(false);
    expect(unsettled.filter((loss) => loss.kind === 'cloud').length).toBeGreaterThan(4);
    // A cloudy day after clear ones.
    const bins = panelDays(6, (moment) => (moment.day === 5 ? 0.35 : 0.85));
    expect(kindsOf(bins, 6)).toEqual(['cloud']);
  });

  it('and says when no sign is plain: an even dim day with nothing to compare it to', () => {
    expect(
      kindsOf(
        panelDays(1, () => 0.4),
        1,
      ),
    ).toEqual(['unknown']);
  });
});
