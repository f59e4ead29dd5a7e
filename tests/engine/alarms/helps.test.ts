import { describe, expect, it } from 'vitest';
import { helpsOf } from '../../../engine/alarms/helps.ts';
import { project } from '../../../engine/project.ts';
import { Projection } from '../../../shared/schema/projection.ts';
import { HOUR_MS, rigOf } from '../../helpers/engine-rig.ts';
import { lived, SUNSET_MS, snapshotOf } from '../../helpers/engine-snapshot.ts';

const rig = rigOf({ capacityAh: 300 });
const { learned, bins } = lived(rig, { days: 10 });
const oven = { name: 'oven', startMs: SUNSET_MS + HOUR_MS, endMs: SUNSET_MS + 2 * HOUR_MS, powerW: 1200 };
const say = (socFrac: number, forScreens = true) =>
  Projection.parse(project(snapshotOf(rig, learned, { socFrac }), { loads: [oven] }, 5, 150, bins, { forScreens }));

describe('what would help against a low point', () => {
  const short = say(0.65);
  const texts = helpsOf(short, rig);

  it('is said with its effect, the most helpful first', () => {
    expect(short.belowFloorProbability).toBeGreaterThan(0.1);
    const gains = (short.helps ?? []).map(({ effect }) => effect.gainPct);
    expect(gains).toEqual([...gains].sort((a, b) => b - a));
    const setting = texts.find((text) => text.startsWith('Set 26°C: ')) ?? '';
    expect(setting).toMatch(/^Set 26°C: \d+(\.\d)? points more, lowest \d+ %, holds .+\.$/);
    expect(texts.some((text) => /^Leave out oven at 2\d:\d\d: \d+ points more/.test(text))).toBe(true);
    // What comes of it is better than what is to come without.
    for (const { effect } of short.helps ?? []) expect(1 - effect.holdsProbability).toBeLessThanOrEqual(short.belowFloorProbability + 0.02);
  });

  it('never advises to switch off without the caution', () => {
    const off = texts.filter((text) => text.includes('off'));
    expect(off).toHaveLength(1);
    expect(off[0]).toContain('never with anyone inside who depends on it');
  });

  it("speaks the rig's units, and is not worked out while the bank holds well or nobody reads it", () => {
    expect(helpsOf(short, { ...rig, units: 'us' }).join()).toContain('Set 79°F:');
    expect(say(1).helps).toBeUndefined();
    expect(say(0.65, false).helps).toBeUndefined();
    expect(helpsOf(null, rig)).toEqual([]);
    expect(helpsOf({ ...short, helps: [] }, rig)).toEqual(['Draw less, or bring in a charge.']);
  });
});
