import { describe, expect, it } from 'vitest';
import { bench } from './rig.ts';

const panels = { 'panels.power': { topic: 'rig/panels' } };

describe('P14 state of charge climbs all night while the mini-split runs', () => {
  it('a charging current without any charger while the voltage sags is suspected of its sign', () => {
    const { send, health } = bench({ ...panels, 'minisplit.power': { topic: 'rig/ac' } });
    let last = '';
    for (let i = 0; i <= 90; i++) {
      send('rig/panels', '0', i * 10);
      send('rig/ac', '480', i * 10);
      last = send('rig/shunt', { v: 13.2 - i * 0.002, i: 38 + (i % 3) * 0.1 }, i * 10).find(({ signal }) => signal === 'bank.current')?.reason ?? '';
    }
    expect(last).toBe('sign');
    expect(health('bank.current').note).toContain('chargingIs: negative');
  });

  it('steps of load that raise the voltage show it too, and a corrected rig file clears it', () => {
    const { send, health, pipeline } = bench();
    const run = (sign: 1 | -1, fromS: number) => {
      for (let i = 0; i < 60; i++) {
        const currentA = i % 2 ? -40.5 : -4.25;
        send('rig/shunt', { v: 13.2 + currentA * 0.005, i: currentA * sign }, fromS + i * 10);
      }
    };
    run(1, 0);
    expect(health('bank.current').note).toBe('');
    run(-1, 1000);
    run(-1, 2000);
    expect(health('bank.current').note).toContain('sense wires');
    run(1, 4000);
    run(1, 5000);
    run(1, 6000);
    expect(health('bank.current').note).toBe('');
    expect(pipeline.latest().get('bank.current')?.quality).toBe('ok');
  });

  it('a true charge with falling voltage is not: the sun fades, or a charger tapers off', () => {
    const { send } = bench(panels);
    const reasons = new Set<string | undefined>();
    for (let i = 0; i <= 200; i++) {
      send('rig/panels', `${600 - i * 2.5}`, i * 10);
      for (const reading of send('rig/shunt', { v: 13.6 - i * 0.002, i: 40 - i * 0.17 }, i * 10)) reasons.add(reading.reason);
    }
    expect(reasons).toEqual(new Set([undefined]));
  });
});

describe('P17 current is exactly 0.00 A for hours', () => {
  const send600 = (fallV: number, ac: string | null) => {
    const { send, health } = bench({ 'minisplit.power': { topic: 'rig/ac' } });
    const reasons: (string | undefined)[] = [];
    for (let i = 0; i < 600; i++) {
      if (ac !== null) send('rig/ac', ac, i);
      reasons.push(send('rig/shunt', { v: Number((13.2 - (fallV * i) / 600).toFixed(3)), i: 0 }, i)[1]?.reason);
    }
    return { reasons, send, note: () => health('bank.current').note };
  };

  it('is a fault when the voltage falls, until a current is seen again', () => {
    const { reasons, send, note } = send600(0.3, null);
    expect(reasons[0]).toBeUndefined();
    expect(reasons.at(-1)).toBe('flat');
    expect(note()).toContain('Restart the board');
    expect(send('rig/shunt', { v: 12.9, i: -31.2 }, 601)[1]).toMatchObject({ quality: 'ok' });
  });

  it('is a fault when power is drawn elsewhere', () => {
    expect(send600(0, '450').reasons.at(-1)).toBe('flat');
  });

  it('is idle when nothing else says otherwise', () => {
    expect(send600(0, null).reasons.at(-1)).toBeUndefined();
    expect(send600(0.03, '0').reasons.at(-1)).toBeUndefined();
  });

  it('is idle while a bank that was just charged relaxes', () => {
    const { send } = bench();
    let last: string | undefined = 'none';
    for (let i = 0; i < 900; i++) last = send('rig/shunt', { v: 14.2 - 0.7 * (1 - Math.exp(-i / 200)), i: 0 }, i)[1]?.reason;
    expect(last).toBeUndefined();
  });

  it.each([
    ['AGM', 6, 13.8, 12.7],
    ['NMC', 7, 28.9, 28.2],
  ])('is idle while a bank of %s relaxes, which it does at lower or higher voltages', (chemistry, cells, fromV, toV) => {
    const { send } = bench({}, cells, chemistry);
    const reasons = Array.from({ length: 900 }, (_, i) => send('rig/shunt', { v: toV + (fromV - toV) * Math.exp(-i / 200), i: 0 }, i)[1]?.reason);
    expect(reasons.filter((reason) => reason !== undefined)).toEqual([]);
  });

  it('is met in one shunt of two', () => {
    const { send, pipeline } = bench({ 'bank.current': { sum: [{ topic: 'a' }, { topic: 'b' }] }, 'bank.voltage': { topic: 'v' } });
    for (let i = 0; i < 600; i++) {
      send('v', `${13.2 - i * 0.0005}`, i);
      send('a', `${-20 - (i % 7) * 0.1}`, i);
      send('b', '0', i);
    }
    expect(pipeline.latest().get('bank.current')).toMatchObject({ quality: 'suspect', reason: 'flat' });
  });
});
