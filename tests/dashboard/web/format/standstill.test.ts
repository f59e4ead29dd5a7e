import { describe, expect, it } from 'vitest';
import { type Inflow, standstill } from '../../../../dashboard/web/src/format/standstill.ts';
import { evening } from '../../../helpers/web-scenario.ts';
import { EVENING_MS } from '../../../helpers/web-scenario-parts.ts';

const { health, states } = evening().snapshot;
const say = (part: Partial<Inflow>) => standstill({ connected: true, heardMs: EVENING_MS, health, states, recorded: false, zone: 'Europe/Lisbon', ...part });

describe('what stands still', () => {
  it('is nothing while readings come in, nor before anything is known', () => {
    expect(say({})).toBe('');
    expect(say({ health: null, connected: false })).toBe('');
  });

  it('is everything without the box: the screen is of the time it was last heard', () => {
    expect(say({ connected: false, heardMs: EVENING_MS - 600_000 })).toBe('Without contact: what stands here is of 17:56.');
  });

  it.each(['lost', 'connecting'] as const)('is what comes in while the broker is %s', (broker) => {
    expect(say({ health: { ...health, broker, lastMessageMs: EVENING_MS - 3_600_000 } })).toBe(
      'No contact with the broker: nothing new has come in since 17:06.',
    );
  });

  it('is said of a broker that was never reached, once it counts as lost', () => {
    expect(say({ health: { ...health, broker: 'connecting', lastMessageMs: null } })).toBe('');
    expect(say({ health: { ...health, broker: 'lost', lastMessageMs: null } })).toBe('No contact with the broker: nothing has come in yet.');
  });

  it('is the end of a recording where one is played', () => {
    expect(say({ recorded: true, health: { ...health, broker: 'lost' } })).toMatch(/^The recording has ended: nothing new/);
  });

  it('is every signal, when all are silent though the broker is there; not some of them', () => {
    const silent = states.map((state) => ({ ...state, freshness: 'silent' as const, tMs: EVENING_MS - 1_200_000 }));
    expect(say({ states: silent })).toBe('Every signal is silent: nothing new since 17:46.');
    expect(say({ states: [...silent.slice(1), ...states.slice(0, 1)] })).toBe('');
    expect(say({ states: states.map((state) => ({ ...state, freshness: 'never' as const, tMs: null })) })).toBe('');
  });
});
