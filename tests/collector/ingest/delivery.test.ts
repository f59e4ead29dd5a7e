import { describe, expect, it } from 'vitest';
import { type Bench, bench, brief, T0 } from './rig.ts';

const counted = { 'panels.power': { topic: 'p', format: 'json', pointer: '/w', sequencePointer: '/n' } };
const timed = { 'panels.power': { topic: 'p', format: 'json', pointer: '/w', timePointer: '/t' } };
const s = (offset: number): number => T0 / 1000 + offset;

describe('P08 battery reads 0 V', () => {
  it.each(['', '  ', 'null', '{"v":null,"i":null}', '{"v":"","i":""}'])('%j gives no reading', (payload) => {
    const { send, health } = bench();
    expect(send('rig/shunt', payload, 0)).toEqual([]);
    expect(health('bank.voltage').rejected).toEqual({ empty: 1 });
  });

  it('zero bytes on a retained topic clear nothing that is live', () => {
    const { send, pipeline } = bench();
    send('rig/shunt', { v: 13, i: 1 }, 0);
    send('rig/shunt', '', 1, true);
    expect(pipeline.latest(T0 + 1000).get('bank.voltage')).toMatchObject({ value: 13, quality: 'ok', freshness: 'fresh' });
  });
});

describe('after a restart', () => {
  const newest = { rigId: 'heron', signal: 'bank.voltage', tMs: T0 - 7_200_000, value: 12.9, quality: 'ok', timeSource: 'arrival', arrivalSeq: 0 } as const;
  const voltage = (bench: Bench, atS: number) => bench.pipeline.latest(T0 + atS * 1000).get('bank.voltage');

  it('the newest stored value is shown as last known with its own time, and gives way to a live one', () => {
    const under = bench();
    under.pipeline.recall([newest, { ...newest, signal: 'gone.away' }]);
    expect(voltage(under, 0)).toEqual({ value: 12.9, tMs: newest.tMs, quality: 'ok', freshness: 'last-known' });
    under.send('rig/shunt', { v: 13.1, i: 1 }, 1);
    expect(voltage(under, 1)).toMatchObject({ value: 13.1, freshness: 'fresh' });
    under.pipeline.recall([newest]);
    expect(voltage(under, 1)).toMatchObject({ value: 13.1, freshness: 'fresh' });
  });

  it('a suspect one stays suspect, and a retained message of the same value does not make it younger', () => {
    const under = bench();
    under.pipeline.recall([{ ...newest, quality: 'suspect', reason: 'saturated' }]);
    under.send('rig/shunt', { v: 12.9, i: 1 }, 0, true);
    expect(voltage(under, 0)).toEqual({ value: 12.9, tMs: newest.tMs, quality: 'suspect', reason: 'saturated', freshness: 'last-known' });
    under.send('rig/shunt', { v: 13.2, i: 1 }, 1, true);
    expect(voltage(under, 1)).toMatchObject({ value: 13.2, tMs: T0 + 1000, freshness: 'last-known' });
  });

  it('a device time before it is still taken as live', () => {
    const under = bench(timed);
    under.pipeline.recall([{ ...newest, signal: 'panels.power', tMs: T0 + 5000, value: 3 }]);
    expect(under.send('p', { w: 7, t: s(1) }, 2)).toHaveLength(1);
    expect(under.pipeline.latest(T0 + 2000).get('panels.power')).toMatchObject({ value: 7, freshness: 'fresh' });
  });
});

describe('P20 energy counted twice after a Wi-Fi blip', () => {
  it('a resent message is known by its sequence', () => {
    const { send, health } = bench(counted);
    expect(send('p', { w: 7, n: 5 }, 0)).toHaveLength(1);
    expect(send('p', { w: 7, n: 5 }, 0.1)).toEqual([]);
    expect(send('p', { w: 8, n: 6 }, 1)).toHaveLength(1);
    expect(send('p', { w: 7, n: 5 }, 2)).toEqual([]);
    expect(health('panels.power').rejected).toEqual({ duplicate: 2 });
  });

  it('or by its own time', () => {
    const { send } = bench(timed);
    expect(send('p', { w: 7, t: s(0) }, 0)).toHaveLength(1);
    expect(send('p', { w: 7, t: s(0) }, 30)).toEqual([]);
    expect(send('p', { w: 7, t: s(1) }, 31)).toHaveLength(1);
  });

  it('never by an equal value alone, and the only copy counts whatever its flags', () => {
    const { send } = bench();
    expect(send('rig/shunt', { v: 13, i: 7 }, 0)).toHaveLength(2);
    expect(send('rig/shunt', { v: 13, i: 7 }, 0.1)).toHaveLength(2);
  });

  it('a counter that starts anew after a restart loses nothing', () => {
    const { send } = bench(counted);
    for (let n = 0; n < 5; n++) send('p', { w: 100 + n, n }, n);
    for (let n = 0; n < 5; n++) expect(send('p', { w: 200 + n, n }, 10 + n)).toHaveLength(1);
  });

  it('of two values with one own time both are handed on, the later arrival last', () => {
    const { send } = bench(timed);
    const [first] = send('p', { w: 7, t: s(0) }, 0);
    const [second] = send('p', { w: 8, t: s(0) }, 1);
    expect(second).toMatchObject({ tMs: first?.tMs, timeSource: 'device', value: 8 });
    expect(second?.arrivalSeq).toBeGreaterThan(first?.arrivalSeq ?? 0);
  });
});

describe("P22 yesterday's 92 % is shown as live", () => {
  const soc = { 'bank.stateOfCharge': { topic: 'soc' } };
  it('a retained message is the last-known value: no reading, not fresh', () => {
    const { send, pipeline, health } = bench(soc);
    expect(send('soc', '92', 0, true)).toEqual([]);
    expect(pipeline.latest(T0).get('bank.stateOfCharge')).toMatchObject({ value: 92, freshness: 'last-known' });
    expect(health('bank.stateOfCharge').remarks).toEqual({ retained: 1 });
    expect(brief(send('soc', '91', 5))).toEqual(['bank.stateOfCharge 91 ok']);
    expect(pipeline.latest(T0 + 5000).get('bank.stateOfCharge')).toMatchObject({ value: 91, freshness: 'fresh' });
  });

  it('it never replaces a live value, not even a silent one', () => {
    const { send, pipeline } = bench(soc);
    send('soc', '60', 0);
    send('soc', '92', 3600, true);
    expect(pipeline.latest(T0 + 3_600_000).get('bank.stateOfCharge')).toMatchObject({ value: 60, tMs: T0, freshness: 'silent' });
  });

  it('with a plausible time of its own it is a reading of that time, as old as it says', () => {
    const { send, pipeline } = bench(timed);
    expect(send('p', { w: 5, t: s(-7200) }, 0, true)).toMatchObject([{ tMs: T0 - 7_200_000, timeSource: 'device' }]);
    expect(pipeline.latest(T0).get('panels.power')).toMatchObject({ freshness: 'silent' });
  });
});

describe('P23 board dead, dashboard says online (or the reverse)', () => {
  it('a value from before the clock was set back is not fresh until it is sent again', () => {
    const { send, pipeline } = bench({ 'cabin.temperature': { topic: 'rig/cabin' } });
    send('rig/cabin', '22', 3600);
    expect(pipeline.latest(T0).get('cabin.temperature')).toMatchObject({ freshness: 'silent' });
    send('rig/cabin', '22.1', 0);
    expect(pipeline.latest(T0).get('cabin.temperature')).toMatchObject({ value: 22.1, freshness: 'fresh' });
  });

  it('presence is the age of the data, whatever a will says', () => {
    const { send, pipeline } = bench({ 'cabin.temperature': { topic: 'rig/cabin', every: '30 s' } });
    const freshness = (atS: number) => pipeline.states(T0 + atS * 1000)[2]?.freshness;
    expect(freshness(0)).toBe('never');
    send('rig/cabin/status', 'online', 0, true);
    expect(freshness(0)).toBe('never');
    send('rig/cabin', '21', 1);
    send('rig/cabin/status', 'offline', 2);
    expect(freshness(2)).toBe('fresh');
    expect(freshness(91)).toBe('fresh');
    expect(freshness(92)).toBe('silent');
    send('rig/cabin/status', 'online', 93);
    expect(freshness(93)).toBe('silent');
  });
});

describe('P25 state of charge saw-tooths after a reconnect', () => {
  it('late readings go to history; the live value never goes back in time', () => {
    const { send, pipeline, health } = bench(timed);
    const seen: (number | undefined)[] = [];
    for (const t of [100, 130, 110, 120, 140]) {
      expect(send('p', { w: t, t: s(t) }, 150 + t / 1000)).toMatchObject([{ tMs: T0 + t * 1000, value: t }]);
      seen.push(pipeline.latest(T0 + 160_000).get('panels.power')?.value);
    }
    expect(seen).toEqual([100, 130, 130, 130, 140]);
    expect(health('panels.power').remarks).toEqual({ late: 2 });
  });

  it('a backlog of an hour does not count as fresh, a clock some seconds behind does', () => {
    const { send, pipeline } = bench(timed);
    send('p', { w: 1, t: s(-3600) }, 0);
    expect(pipeline.latest(T0).get('panels.power')?.freshness).toBe('silent');
    send('p', { w: 1, t: s(-50) }, 1);
    expect(pipeline.latest(T0 + 1000).get('panels.power')?.freshness).toBe('fresh');
  });

  it('all records of a SenML pack become readings, oldest first', () => {
    const { send } = bench({ 'outside.temperature': { topic: 's', format: 'senml', name: 'o' } });
    const readings = send(
      's',
      [
        { n: 'o', v: 3, t: -5 },
        { n: 'o', v: 1, t: -15 },
        { n: 'o', v: 2, t: -10 },
      ],
      0,
    );
    expect(readings.map(({ value, tMs }) => [value, tMs - T0])).toEqual([
      [1, -15_000],
      [2, -10_000],
      [3, -5000],
    ]);
  });
});

describe('P28 everything is shifted by a whole number of hours', () => {
  it('a time without a zone is not taken, and the skew is shown in hours', () => {
    const { send, pipeline, health } = bench(timed);
    for (let i = 0; i < 5; i++) {
      const local = new Date(T0 + i * 1000 + 7_200_000).toISOString().slice(0, 19);
      expect(send('p', { w: 5 + i, t: local }, i)).toMatchObject([{ tMs: T0 + i * 1000, timeSource: 'arrival' }]);
    }
    expect(health('panels.power').remarks).toEqual({ 'time-without-zone': 5 });
    expect(health('panels.power').note).toContain('2 h ahead');
    expect(pipeline.report(T0).signals.find(({ name }) => name === 'panels.power')?.skewMs).toBe(7_200_000);
  });
});

describe('P31 settings of every object change after one odd topic', () => {
  it('topics are keys of a Map only', () => {
    const { send, pipeline } = bench();
    for (const topic of ['rig/__proto__/hot', 'constructor/prototype/x', '__proto__', 'constructor']) send(topic, '1', 0);
    expect(({} as Record<string, unknown>).hot).toBeUndefined();
    expect(({} as Record<string, unknown>).x).toBeUndefined();
    expect(
      pipeline
        .report(T0)
        .unmapped.map(({ topic }) => topic)
        .sort(),
    ).toEqual(['__proto__', 'constructor', 'constructor/prototype/x', 'rig/__proto__/hot']);
  });
});

describe('P34 a sensor is missing from the picker', () => {
  it.each(['rig/with space/t', 'rig/ünï/温度', 'rig//t', '/lead', 'trail/', ' rig/t', 'rig/t ', 'rig/<img src=x onerror=1>/t'])(
    '%j is a topic like any other',
    (topic) => {
      const { send } = bench({ 'cabin.temperature': { topic } });
      expect(brief(send(topic, '21', 0))).toEqual(['cabin.temperature 21 ok']);
      expect(send(topic.trim() === topic ? `${topic} ` : topic.trim(), '21', 0)).toEqual([]);
    },
  );

  it('unmapped ones show with their last payload, every unprintable character escaped, no two alike', () => {
    const { send, pipeline } = bench();
    const topics = ['rig/t', 'rig/t ', 'rig/\u202et', 'rig/\\u{202e}t', 'rig/\u0000', 'rig/ünï/温度', `rig/${'x'.repeat(3000)}`];
    for (const topic of topics) send(topic, 'a\u0007\n<b>', 0, topic === 'rig/t');
    const { unmapped } = pipeline.report(T0);
    expect(new Set(unmapped.map(({ topic }) => topic)).size).toBe(topics.length);
    expect(unmapped.map(({ topic }) => topic)).toContain('rig/ünï/温度');
    expect(unmapped.every(({ topic, lastPayload }) => !/[\p{Cc}\p{Cf}]/u.test(topic + lastPayload))).toBe(true);
    expect(unmapped.find(({ topic }) => topic === 'rig/t')).toMatchObject({ retained: true, count: 1, lastPayload: 'a\\u{7}\\u{a}<b>' });
  });

  it('payload previews are short, and a flood of topics is bounded', () => {
    const { send, pipeline } = bench();
    send('long', 'x'.repeat(10_000), 0);
    expect(pipeline.report(T0).unmapped[0]?.lastPayload).toHaveLength(200);
    for (let i = 0; i < 700; i++) send(`flood/${i}`, '1', i);
    expect(pipeline.report(T0).unmapped).toHaveLength(500);
    expect(pipeline.report(T0).unmappedDropped).toBe(201);
  });
});

describe("P35 the broker's own $SYS topics", () => {
  it('are not among the discovered ones, and can be mapped on purpose', () => {
    const { send, pipeline } = bench({ 'broker.load': { topic: '$SYS/load', quantity: 'power' } });
    send('$SYS/uptime', '5 seconds', 0);
    expect(brief(send('$SYS/load', '5', 0))).toEqual(['broker.load 5 ok']);
    expect(pipeline.report(T0).unmapped).toEqual([]);
  });
});

describe('P38 slow 1 Hz jitter turns into wrong Wh', () => {
  it('every reading keeps its own time; nothing is filled in between', () => {
    const { send } = bench();
    const times = [0, 1, 2, 14, 15].flatMap((atS) => send('rig/shunt', { v: 13, i: 10 }, atS)).filter(({ signal }) => signal === 'bank.current');
    expect(times.map(({ tMs }) => (tMs - T0) / 1000)).toEqual([0, 1, 2, 14, 15]);
  });
});

describe('S14 one bank of two is missing', () => {
  const two = { 'bank.current': { sum: [{ topic: 'a' }, { topic: 'b' }], every: '10 s' } };
  it('the sum counts only while all parts are fresh; else it is partial', () => {
    const { send, pipeline, health } = bench(two);
    expect(send('a', '-10', 0)).toEqual([]);
    expect(brief(send('b', '-5', 1))).toEqual(['bank.current -15 ok']);
    expect(brief(send('a', '-11', 10))).toEqual(['bank.current -16 ok']);
    for (let i = 2; i < 10; i++) send('a', '-11', i * 10);
    expect(send('a', '-11', 100)).toEqual([]);
    expect(pipeline.states(T0 + 100_000)[1]).toMatchObject({ quality: 'suspect', reason: 'partial', freshness: 'silent' });
    expect(health('bank.current').note).toContain('silent');
    expect(brief(send('b', '-5', 101))).toEqual(['bank.current -16 ok']);
  });

  it("a part beyond the signal's range is refused", () => {
    const { send, health } = bench({ 'bank.current': { sum: [{ topic: 'a' }, { topic: 'b', range: [-20, 20] }], range: [-100, 100] } });
    send('a', '-10', 0);
    expect(send('b', '-30', 1)).toEqual([]);
    expect(brief(send('b', '-20', 2))).toEqual(['bank.current -30 ok']);
    expect(send('a', '-101', 3)).toEqual([]);
    expect(health('bank.current').rejected).toEqual({ 'out-of-range': 2 });
  });

  it('a retained part does not complete it', () => {
    const { send } = bench(two);
    send('b', '-5', 0, true);
    expect(send('a', '-10', 1)).toEqual([]);
  });

  it('a bad part leaves no sum of survivors behind', () => {
    const { send, pipeline } = bench(two);
    send('a', '-10', 0);
    send('b', '-5', 1);
    expect(send('b', 'nan', 11)).toEqual([]);
    expect(pipeline.latest(T0 + 11_000).get('bank.current')).toMatchObject({ quality: 'bad', reason: 'not-finite' });
  });
});
