import { describe, expect, it } from 'vitest';
import { bench, T0 } from './rig.ts';

const SIGNALS = {
  'cabin.temperature': { topic: 'van/cabin/temp' },
  'cabin.humidity': { topic: 'van/cabin/hum' },
  'load.fridge.power': { topic: 'fridge' },
};

function boards(atS: number, sends: readonly [topic: string, payload: unknown, atS: number, retained?: boolean][]) {
  const { pipeline, send } = bench(SIGNALS);
  for (const one of sends) send(...one);
  return Object.fromEntries((pipeline.report(T0 + atS * 1000).boards ?? []).map((board) => [board.name, board]));
}

describe('boards', () => {
  it('are the topics that share all but their last level, in the order of their names', () => {
    const { pipeline } = bench(SIGNALS);
    expect((pipeline.report(T0).boards ?? []).map(({ name, signals, presence, lastMs, will }) => [name, signals, presence, lastMs, will])).toEqual([
      ['fridge', ['load.fridge.power'], 'never', null, null],
      ['rig', ['bank.voltage', 'bank.current'], 'never', null, null],
      ['van/cabin', ['cabin.temperature', 'cabin.humidity'], 'never', null, null],
    ]);
  });

  it('are here while their data come, silent when they stop, gone when their will says so too', () => {
    const data = ['van/cabin/temp', '21', 0] as const;
    expect(boards(20, [[...data]])['van/cabin']).toMatchObject({ presence: 'here', lastMs: T0 });
    expect(boards(200, [[...data]])['van/cabin']).toMatchObject({ presence: 'silent', will: null });
    const gone = boards(200, [[...data], ['van/cabin/status', 'offline', 60, true]])['van/cabin'];
    expect(gone).toMatchObject({ presence: 'gone', lastMs: T0, will: { topic: 'van/cabin/status', says: 'offline', tMs: T0 + 60_000 } });
  });
});

describe('P23 presence', () => {
  it('is told by data before the will: a late will of an earlier connection says nothing against them', () => {
    const late = boards(12, [
      ['van/cabin/lwt', 'online', 0, true],
      ['van/cabin/temp', '21', 5],
      ['van/cabin/lwt', 'offline', 6, true],
      ['van/cabin/temp', '21', 10],
    ]);
    expect(late['van/cabin']).toMatchObject({ presence: 'here', will: { says: 'offline' } });
  });

  it('is silent when data stop though the will says online', () => {
    const stuck = boards(900, [
      ['van/cabin/status', 'online', 0, true],
      ['van/cabin/temp', '21', 0],
    ]);
    expect(stuck['van/cabin']).toMatchObject({ presence: 'silent', will: { says: 'online' } });
  });

  it('takes a will also from under a topic of the board, in any of its words, and nothing else for one', () => {
    expect(boards(0, [['fridge/LWT', '0', 0]]).fridge).toMatchObject({ will: { says: 'offline' } });
    expect(boards(0, [['rig/shunt/alive', '"Connected"', 0]]).rig).toMatchObject({ will: { says: 'online' } });
    for (const [topic, payload] of [
      ['rig/status', 'ready'],
      ['rig/level', 'offline'],
      ['other/status', 'offline'],
      ['status', 'offline'],
    ])
      expect(boards(0, [[topic ?? '', payload, 0]]).rig).toMatchObject({ will: null });
  });

  it('does not count what the broker had kept as a sign of life', () => {
    expect(boards(1, [['van/cabin/temp', '21', 0, true]])['van/cabin']).toMatchObject({ presence: 'never', lastMs: null });
  });
});
