import { expect, it } from 'vitest';
import { OneAtATime } from '../../shared/one-at-a-time.ts';

it('begins the next only when the one before is over, in order, also after a failure', async () => {
  const turns = new OneAtATime();
  const told: string[] = [];
  let end: (error: Error) => void = () => undefined;
  const first = turns.take(() => new Promise((_, reject) => (end = reject)));
  const second = turns.take(async () => told.push('second'));
  const third = turns.take(async () => told.push('third'));
  await new Promise((resolve) => setImmediate(resolve));
  expect(told).toEqual([]);
  end(new Error('no answer'));
  await expect(first).rejects.toThrow('no answer');
  await Promise.all([second, third]);
  expect(told).toEqual(['second', 'third']);
});
