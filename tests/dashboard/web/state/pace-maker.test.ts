import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { PaceMaker } from '../../../../dashboard/web/src/state/pace-maker.ts';

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

it('works at once when quiet and four times a second in a flood', () => {
  const work = vi.fn();
  const pace = new PaceMaker(250, work);
  pace.ask();
  expect(work).toHaveBeenCalledTimes(1);
  for (let i = 0; i < 100; i++) {
    vi.advanceTimersByTime(10);
    pace.ask();
  }
  expect(work).toHaveBeenCalledTimes(5);
  vi.advanceTimersByTime(1000);
  expect(work).toHaveBeenCalledTimes(6);
});
