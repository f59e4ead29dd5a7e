import { expect, test } from 'vitest';
import { pacedClock, systemClock, waitingClock } from '../../../deploy/runtime/clock.ts';

const START_MS = Date.UTC(2027, 0, 1);

function handSet(wallMs: number) {
  const at = { wallMs, monoMs: 5000 };
  return { at, sources: { wallMs: () => at.wallMs, monoMs: () => at.monoMs } };
}

test('a small correction backwards does not run the time back', () => {
  const { at, sources } = handSet(START_MS);
  const clock = systemClock(sources);
  at.monoMs += 1000;
  at.wallMs += 1000;
  const before = clock.now().wallMs;
  at.monoMs += 100;
  at.wallMs -= 900;
  expect(clock.now().wallMs).toBe(before);
  expect(clock.now().clockSure).toBe(true);
});

test.each([600_000, -600_000])('a jump by %d ms is followed and makes the clock unsure for an hour', (jumpMs) => {
  const { at, sources } = handSet(START_MS);
  const clock = systemClock(sources);
  at.wallMs += jumpMs;
  expect(clock.now()).toMatchObject({ wallMs: START_MS + jumpMs, clockSure: false });
  expect(clock.doubt()).toMatch(/set within the last hour/);
  at.wallMs += 3_600_001;
  at.monoMs += 3_600_001;
  expect(clock.now().clockSure).toBe(true);
  expect(clock.doubt()).toBeNull();
});

test('what a device told gives way to what a time server sets, however small the step', () => {
  const { at, sources } = handSet(START_MS - 60_000);
  let synced = false;
  const clock = systemClock(sources, { bootId: 'b', keepsTime: false, isSynced: () => synced, monoMs: sources.monoMs });
  clock.learn(START_MS, 'the device Phone');
  expect(clock.now().wallMs).toBe(START_MS);
  synced = true;
  at.wallMs += 61_000;
  at.monoMs += 1000;
  expect(clock.now()).toMatchObject({ wallMs: START_MS + 1000, clockSure: true });
  expect(clock.scale().rightMs).toBe(START_MS + 1000);
});

test('a clock before the program was written is unsure', () => {
  const clock = systemClock(handSet(Date.UTC(2020, 0, 1)).sources);
  expect(clock.now().clockSure).toBe(false);
});

const LATE_MS = Date.UTC(2080, 0, 6);

test.each([
  ['that the box starts with', LATE_MS, 0],
  ['that the clock is set to', Date.UTC(1970, 0, 1), LATE_MS],
])('a time decades ahead %s is not known until a time server stands behind the clock', (_words, startMs, setMs) => {
  const { at, sources } = handSet(startMs);
  let synced = false;
  const clock = systemClock(sources, { bootId: 'b', keepsTime: startMs === LATE_MS, isSynced: () => synced, monoMs: sources.monoMs });
  at.wallMs += setMs;
  expect(clock.now().clockSure).toBe(false);
  expect(clock.isKnown()).toBe(false);
  expect(clock.doubt()).toMatch(/decades ahead/);
  synced = true;
  at.wallMs = START_MS;
  expect(clock.now()).toMatchObject({ wallMs: START_MS, clockSure: true });
});

test('a paced clock runs both of its times at its pace', () => {
  const { at, sources } = handSet(0);
  const clock = pacedClock(START_MS, 60, sources);
  at.monoMs += 1000;
  expect(clock.now()).toMatchObject({ wallMs: START_MS + 60_000, monoMs: 60_000, clockSure: true });
});

test('a waiting clock stands still until it is let go, and then runs from where it stood', () => {
  const { at, sources } = handSet(0);
  const clock = waitingClock(START_MS, 60, sources);
  const { bootId } = clock.now();
  at.monoMs += 90_000;
  expect(clock.now()).toMatchObject({ wallMs: START_MS, monoMs: 0, bootId });
  clock.go();
  at.monoMs += 1000;
  clock.go();
  expect(clock.now()).toMatchObject({ wallMs: START_MS + 60_000, monoMs: 60_000, bootId });
});
