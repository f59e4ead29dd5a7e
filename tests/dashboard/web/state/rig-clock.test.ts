import { expect, it } from 'vitest';
import { RigClock } from '../../../../dashboard/web/src/state/rig-clock.ts';

const at = (steadyMs: number, wallMs: number) => ({ steadyMs, wallMs });

it("counts on from the server's time, whatever the tablet's own clock says", () => {
  const clock = new RigClock();
  expect(clock.nowMs(at(5, 5))).toBe(0);
  clock.sync(1_800_000_000_000, at(1000, 42), 1);
  expect(clock.nowMs(at(3500, 2542))).toBe(1_800_000_002_500);
});

it('counts a sleep in which the steady clock stood still', () => {
  const clock = new RigClock();
  clock.sync(1_800_000_000_000, at(1000, 0), 1);
  expect(clock.nowMs(at(1010, 300_000))).toBe(1_800_000_300_000);
});

it('does not go back when the tablet is set back', () => {
  const clock = new RigClock();
  clock.sync(1_800_000_000_000, at(1000, 7_200_000), 1);
  expect(clock.nowMs(at(6000, 3_600_000))).toBe(1_800_000_005_000);
});

it('runs at the pace of a demo', () => {
  const clock = new RigClock();
  clock.sync(1_800_000_000_000, at(0, 0), 60);
  expect(clock.nowMs(at(1000, 1000))).toBe(1_800_000_060_000);
  expect(clock.silentMs(at(1000, 1000))).toBe(1000);
});
