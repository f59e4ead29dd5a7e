import { describe, expect, it } from 'vitest';
import { courseOf, spanOf } from '../../../engine/projection/inputs.ts';
import { lightAhead, priorIndexes } from '../../../engine/projection/light.ts';
import { refit } from '../../../engine/refit.ts';
import { sunEvents } from '../../../engine/sun/sun.ts';
import { BIN_MS, type Bin, type Learned, type Snapshot } from '../../../engine/types.ts';
import { CABIN, contextOf, pastOf } from '../../helpers/engine-bins.ts';
import { DAY_MS, HOUR_MS, NOON_MS, rigOf } from '../../helpers/engine-rig.ts';
import { snapshotOf } from '../../helpers/engine-snapshot.ts';

const rig = rigOf();
const AT_MS = NOON_MS + 2 * HOUR_MS;

/** Days until two in the afternoon; the last morning is `today` as bright as the others. */
function seen(today: number, edit: (bin: Bin, day: number) => Bin = (bin) => bin): { bins: Bin[]; learned: Learned } {
  const past = pastOf(rig, AT_MS, {
    days: 8,
    edit: (bin, day) => edit(bin.tMs < AT_MS - 8 * HOUR_MS || bin.panelsW === null ? bin : { ...bin, panelsW: today * bin.panelsW }, day),
  });
  return { bins: past.slice(-12), learned: refit(past, AT_MS, contextOf(rig)) };
}

/** Mean index that is expected for the afternoon and for the next morning. */
function ahead(learned: Learned | null, bins: readonly Bin[]): { afternoon: number; firstHour: number; morning: number; days: number } {
  const events = sunEvents(rig.place, AT_MS);
  if (events.kind !== 'events') throw new Error('no sun');
  const s: Snapshot = snapshotOf(rig, learned, { tMs: AT_MS, sun: events, night: null });
  const span = spanOf(s);
  const { traces, weights } = lightAhead(s, span, courseOf(s, { loads: [] }, span), bins);
  const total = weights.reduce((sum, w) => sum + w, 0);
  const mean = (fromMs: number, toMs: number): number => {
    const [from, to] = [fromMs, toMs].map((tMs) => Math.round((tMs - AT_MS) / BIN_MS)) as [number, number];
    const of = (trace: Float64Array): number => trace.subarray(from, to).reduce((sum, v) => sum + v, 0) / (to - from);
    return traces.reduce((sum, trace, i) => sum + ((weights[i] as number) / total) * of(trace), 0);
  };
  const riseMs = events.nextSunriseMs;
  return {
    afternoon: mean(AT_MS, AT_MS + 3 * HOUR_MS),
    firstHour: mean(riseMs + HOUR_MS / 2, riseMs + 1.5 * HOUR_MS),
    morning: mean(riseMs + 2 * HOUR_MS, riseMs + 4 * HOUR_MS),
    days: traces.length,
  };
}

describe('the light that a projection expects', () => {
  it('is that of past days when today is like them', () => {
    const { learned, bins } = seen(1);
    const { afternoon, morning, days } = ahead(learned, bins);
    expect(days).toBeGreaterThan(5);
    expect(afternoon).toBeCloseTo(CABIN.panelShare, 1);
    expect(morning).toBeCloseTo(CABIN.panelShare, 1);
  });

  it('stays dim for the rest of a dim day, and a little dimmer the morning after', () => {
    const { learned, bins } = seen(0.4);
    const { afternoon, morning } = ahead(learned, bins);
    expect(afternoon).toBeGreaterThan(0.4 * CABIN.panelShare);
    expect(afternoon).toBeLessThan(0.55 * CABIN.panelShare);
    expect(morning).toBeLessThan(0.95 * CABIN.panelShare);
    expect(morning).toBeGreaterThan(0.6 * CABIN.panelShare);
  });

  it('H08: is no dimmer because a full bank held the sunny afternoons back', () => {
    const held = (bin: Bin, day: number): Bin => {
      const givenW = bin.panelsW ?? 0;
      const sunny = day % 2 === 0;
      const isHeld = sunny && bin.tMs % DAY_MS >= 14 * HOUR_MS && givenW > 100;
      if (!sunny) return { ...bin, panelsW: 0.4 * givenW };
      return isHeld ? { ...bin, panelsW: 60, surplusW: givenW - 60, curtailedFrac: 1, panelIndex: null } : bin;
    };
    const free = (bin: Bin, day: number): Bin => (day % 2 === 0 ? bin : { ...bin, panelsW: 0.4 * (bin.panelsW ?? 0) });
    const [a, b] = [seen(1, held), seen(1, free)].map(({ learned, bins }) => ahead(learned, bins)) as [ReturnType<typeof ahead>, ReturnType<typeof ahead>];
    expect(a.days).toBe(b.days);
    expect(Math.abs(a.afternoon / b.afternoon - 1)).toBeLessThan(0.03);
  });

  it('is what is believed of days where none was seen, by the gain of these panels, and then what today shows', () => {
    const { bins, learned } = seen(1);
    const bare: Learned = { ...learned, traces: { ...learned.traces, panelIndex: [] } };
    const believed = priorIndexes(null);
    const mean = believed.reduce((sum, v) => sum + v, 0) / believed.length;
    const gain = bare.panels?.fit.gain ?? Number.NaN;
    expect(priorIndexes(bare)[3]).toBeCloseTo((0.6 * gain) / 0.9, 6);
    const blind = ahead(bare, []);
    expect(blind).toMatchObject({ days: believed.length });
    expect(blind.morning).toBeCloseTo((mean * gain) / 0.9, 2);
    expect(Math.abs(ahead(bare, bins).afternoon - CABIN.panelShare)).toBeLessThan(0.05);
  });

  it('H11: counts a known horizon where no past day does, and not a second time where past days do', () => {
    const { bins, learned } = seen(1);
    const hill = (of: Learned): Learned => ({ ...of, panels: of.panels ? { ...of.panels, horizon: new Array(36).fill(18) } : null });
    const bare: Learned = { ...learned, traces: { ...learned.traces, panelIndex: [] } };
    expect(ahead(hill(bare), []).firstHour).toBeLessThan(0.6 * ahead(bare, []).firstHour);
    expect(ahead(hill(bare), []).morning).toBeCloseTo(ahead(bare, []).morning, 9);
    expect(ahead(hill(learned), bins)).toEqual(ahead(learned, bins));
  });
});
