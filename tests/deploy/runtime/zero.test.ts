import { describe, expect, it } from 'vitest';
import { zeroView } from '../../../deploy/runtime/zero.ts';
import { RigFile } from '../../../shared/schema/rig-file.ts';
import { bench, rigFile, T0 } from '../../collector/ingest/rig.ts';

const PANELS = { 'panels.power': { topic: 'pv' }, 'panels.voltage': { topic: 'pvv' } };

/** What is said of a signal after a minute of one value, sent every 5 s with a wobble. */
function zeroed(
  signal: string,
  spec: Record<string, unknown>,
  payload: (wobble: number) => string,
  more: { isNight?: boolean | null; atS?: number; each?: number } = {},
) {
  const { isNight = true, atS = 60, each = 5 } = more;
  const signals = { ...PANELS, [signal]: spec };
  const { pipeline, send } = bench(signals);
  for (let s = 0; s <= 60; s += each) send(String(spec.topic), payload(s % (2 * each) === 0 ? 1 : -1), s);
  const facts = pipeline.zero(signal, T0 + (atS - 60.5) * 1000, T0 + atS * 1000);
  if (facts === null) throw new Error('no signal');
  const file = RigFile.parse({
    ...rigFile(signals),
    panels: [{ watts: 800 }],
    signals: { 'bank.voltage': { topic: 'v' }, 'bank.current': { topic: 'c' }, ...signals },
  });
  return { view: zeroView(signal, 60, facts, file, isNight), pipeline, send, signals };
}

describe('the zero of the shunt', () => {
  const near = (a: number) => (wobble: number) => String(a + 0.01 * wobble);

  it('is the offset with which the mean would be nothing', () => {
    const { view } = zeroed('bank.current', { topic: 'c', every: 5 }, near(0.42));
    expect(view).toMatchObject({ unit: 'A', readings: 13, isSteady: true, offset: 0, refused: '' });
    expect(view.mean).toBeCloseTo(0.42, 2);
    expect(view.nextOffset).toBeCloseTo(-0.42, 2);
  });

  it.each([
    [{ chargingIs: 'negative' }, '-0.42'],
    [{ unit: 'mA' }, '420'],
    [{ unit: 'mA', chargingIs: 'negative', offset: 30 }, '-450'],
    [{ unit: 'mA', scale: 2, offset: -20, chargingIs: 'negative' }, '-200'],
    [{ scale: 0.001 }, '420'],
  ])('reads nothing afterwards, whatever the board sends (%j)', (spec, sent) => {
    const mapped = { topic: 'c', every: 5, ...spec };
    const { view, pipeline, send, signals } = zeroed('bank.current', mapped, () => sent);
    expect(view.mean).toBeCloseTo(0.42, 9);
    if (view.nextOffset === null) throw new Error(view.refused);
    pipeline.replaceFile(rigFile({ ...signals, 'bank.current': { ...mapped, offset: view.nextOffset } }));
    expect(send('c', sent, 70)[0]?.value).toBeCloseTo(0, 4);
  });

  it('forgets what was read before the last edit', () => {
    const { pipeline, signals, send } = zeroed('bank.current', { topic: 'c', every: 5 }, near(0.42));
    pipeline.replaceFile(rigFile({ ...signals, 'bank.current': { topic: 'c', every: 5, offset: -0.42 } }));
    send('c', '0.43', 61);
    expect(pipeline.zero('bank.current', T0, T0 + 62_000)).toMatchObject({ readings: 1, mean: expect.closeTo(0.01, 6), offset: -0.42 });
  });

  it('waits for enough of it, and for it to be steady', () => {
    expect(zeroed('bank.current', { topic: 'c', every: 5 }, near(0.42), { each: 20 }).view).toMatchObject({ isSteady: false, nextOffset: null, refused: '' });
    expect(zeroed('bank.current', { topic: 'c', every: 5 }, (wobble) => String(0.4 + 0.5 * wobble)).view).toMatchObject({ isSteady: false, nextOffset: null });
  });

  it('is refused for what is no zero', () => {
    const refused = (spec: Record<string, unknown>, payload: string, more = {}) =>
      zeroed('bank.current', { topic: 'c', every: 5, ...spec }, () => payload, more).view;
    expect(refused({}, '-12.4')).toMatchObject({ nextOffset: null, refused: expect.stringMatching(/still draws or charges/) });
    expect(refused({}, '0.4', { atS: 400 }).refused).toMatch(/silent/);
    expect(refused({ saturatesAt: [0.4] }, '0.4').refused).toMatch(/not to be believed/);
  });

  it('is refused for a sum', () => {
    const { pipeline, send } = bench({ 'bank.current': { sum: [{ topic: 'a' }, { topic: 'b' }] } });
    for (let s = 0; s < 60; s += 5) for (const topic of ['a', 'b']) send(topic, '0.2', s);
    const facts = pipeline.zero('bank.current', T0, T0 + 60_000);
    if (facts === null) throw new Error('no signal');
    expect(zeroView('bank.current', 60, facts, rigFile({ 'bank.current': { sum: [{ topic: 'a' }, { topic: 'b' }] } }), true)).toMatchObject({
      nextOffset: null,
      refused: expect.stringMatching(/sum/),
    });
  });
});

describe('the zero of the panel sensor', () => {
  const panels = (watts: string, isNight: boolean | null) => zeroed('panels.power', { topic: 'pv', every: 5 }, () => watts, { isNight }).view;
  it('is found by night, and by day only where what comes is too little to be sun', () => {
    expect(panels('9', true)).toMatchObject({ nextOffset: -9, refused: '' });
    for (const isNight of [false, null]) {
      expect(panels('9', isNight)).toMatchObject({ nextOffset: null, refused: expect.stringMatching(/Cover the panels/) });
      expect(panels('3', isNight)).toMatchObject({ nextOffset: -3, refused: '' });
    }
    expect(panels('90', true).refused).toMatch(/still see light/);
  });

  it('is no matter of other signals', () => {
    expect(zeroed('panels.voltage', { topic: 'pvv', every: 5 }, () => '0.2').view.refused).toMatch(/Only the bank current and the panels/);
  });
});
