import type { LookBack } from '../../shared/schema/api.ts';
import type { DayRow, TrackFigures } from '../../shared/schema/ledger.ts';
import { H } from './web-scenario-parts.ts';

const PLACE = { latitudeDeg: 41.234, longitudeDeg: -8.1 };

/** Days up to 23 November, the last with losses that were judged. */
export function days(count: number): DayRow[] {
  return Array.from({ length: count }, (_, i): DayRow => {
    const fromMs = Date.UTC(2026, 10, 24 - count + i);
    return {
      dayId: new Date(fromMs).toISOString().slice(0, 10),
      fromMs,
      toMs: fromMs + 24 * H,
      coverage: 0.99,
      panelsWh: 4100,
      chargersWh: 0,
      minisplitWh: 1000,
      standingWh: 2000,
      inverterWh: 500,
      bankInWh: 3000,
      bankOutWh: 2500,
      surplusWh: 640,
      unexplainedChargeWh: 0,
      socMinPct: 55,
      socMaxPct: 100,
      socEndPct: 80,
      outsideMinC: 9,
      outsideMeanC: 14,
      outsideMaxC: 19,
      place: PLACE,
      ...(i === count - 1
        ? {
            panelLosses: [
              { kind: 'cloud' as const, lostWh: 1700, evidence: 'it comes and goes' },
              { kind: 'full-bank' as const, lostWh: 640, evidence: 'the bank takes no more' },
              { kind: 'dirt' as const, lostWh: 40, evidence: '1 % less on 3 clear days' },
            ],
          }
        : {}),
    };
  });
}

const figures = (nights: number): TrackFigures => ({ nights, biasPct: 1.5, meanErrorPct: 2.1, insideShare: 0.75 });

export const lookBack = (): LookBack => ({
  stays: [
    {
      place: PLACE,
      fromNightId: '2026-10-26',
      toNightId: '2026-11-23',
      nights: 29,
      minisplitWh: 1900,
      standingWh: 1080,
      bankOutWh: 3100,
      lowPointPct: 55,
      outsideMeanC: 14,
      dewPointC: null,
    },
  ],
  track: {
    atSunset: { sunrise: figures(24), lowPoint: figures(24) },
    atBedtime: { sunrise: figures(20), lowPoint: figures(20) },
  },
});
