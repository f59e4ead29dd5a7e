import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { lastSunset, normalLongitude, sunEvents, sunPosition } from '../../../engine/sun/sun.ts';
import type { Place } from '../../../engine/types.ts';
import { DAY_MS, HOUR_MS } from '../../helpers/engine-rig.ts';

const at = (latitudeDeg: number, longitudeDeg: number): Place => ({ latitudeDeg, longitudeDeg });
const anyTime = fc.integer({ min: Date.UTC(2024, 0, 1), max: Date.UTC(2034, 0, 1) });
const anyPlace = fc.record({ latitudeDeg: fc.double({ min: -89, max: 89, noNaN: true }), longitudeDeg: fc.double({ min: -180, max: 180, noNaN: true }) });
const lowLatitude = fc.record({ latitudeDeg: fc.double({ min: -60, max: 60, noNaN: true }), longitudeDeg: fc.double({ min: -180, max: 180, noNaN: true }) });

const events = (place: Place, tMs: number) => {
  const found = sunEvents(place, tMs);
  if (found.kind !== 'events') throw new Error(`no events but ${found.kind}`);
  return found;
};

describe('where the sun stands', () => {
  it('stands overhead at the equator at an equinox noon, and as far from it as the latitude elsewhere', () => {
    // 20 March 2024: equinox 03:06 UTC, solar noon at longitude 0 about 12:07.
    const noonMs = Date.UTC(2024, 2, 20, 12, 7, 30);
    expect(sunPosition(at(0, 0), noonMs).elevationDeg).toBeGreaterThan(89.6);
    expect(sunPosition(at(50, 0), noonMs).elevationDeg).toBeCloseTo(40.15, 1);
    expect(sunPosition(at(50, 0), noonMs).azimuthDeg).toBeCloseTo(180, 0);
    expect(sunPosition(at(-35, 0), noonMs).azimuthDeg % 359.5).toBeLessThan(0.6);
  });

  it('stands where the worked example of the solar position algorithm says', () => {
    const { elevationDeg, azimuthDeg } = sunPosition(at(39.742476, -105.1786), Date.UTC(2003, 9, 17, 19, 30, 30));
    expect(Math.abs(elevationDeg - 39.872046)).toBeLessThan(0.01);
    expect(Math.abs(azimuthDeg - 194.340241)).toBeLessThan(0.01);
  });
});

describe('sunrise and sunset', () => {
  it('come when the almanac of Golden, Colorado says, within a minute', () => {
    const golden = at(39.742476, -105.1786);
    const winter = events(golden, Date.UTC(2015, 0, 2, 12));
    expect(Math.abs(winter.nextSunriseMs - Date.UTC(2015, 0, 2, 14, 21, 55))).toBeLessThan(60_000);
    expect(Math.abs(winter.nextSunsetMs - Date.UTC(2015, 0, 2, 23, 47, 43))).toBeLessThan(60_000);
    // The almanac goes by UTC days, so its sunset of 2 August is the one before its sunrise.
    const summer = events(golden, Date.UTC(2015, 7, 2, 1));
    expect(Math.abs(summer.nextSunsetMs - Date.UTC(2015, 7, 2, 2, 13, 58))).toBeLessThan(60_000);
    expect(Math.abs(summer.nextSunriseMs - Date.UTC(2015, 7, 2, 12, 0, 27))).toBeLessThan(60_000);
  });

  it('H02: late in the evening the next sunrise is that of tomorrow, never one that has been', () => {
    const nowMs = Date.UTC(2026, 6, 2, 5);
    const { isUp, nextSunriseMs, nextSunsetMs } = events(at(33.4, -112), nowMs);
    expect(isUp).toBe(false);
    expect(Math.abs(nextSunriseMs - Date.UTC(2026, 6, 2, 12, 22))).toBeLessThan(120_000);
    expect(nextSunsetMs).toBeGreaterThan(nextSunriseMs);
  });

  it('H02: are the first after now at any time and place, with the sun on the horizon, and the sun is up when it sets next', () => {
    fc.assert(
      fc.property(lowLatitude, anyTime, (place, tMs) => {
        const { isUp, nextSunriseMs, nextSunsetMs } = events(place, tMs);
        for (const eventMs of [nextSunriseMs, nextSunsetMs]) {
          expect(eventMs).toBeGreaterThan(tMs);
          expect(eventMs - tMs).toBeLessThan(26 * HOUR_MS);
          expect(Math.abs(sunPosition(place, eventMs).elevationDeg + 0.833)).toBeLessThan(0.01);
        }
        if (Math.abs(sunPosition(place, tMs).elevationDeg + 0.833) > 0.01) expect(isUp).toBe(nextSunsetMs < nextSunriseMs);
      }),
      { numRuns: 60 },
    );
  });

  it('right after an event, its next one is a day later', () => {
    const place = at(38, 0);
    const { nextSunriseMs } = events(place, Date.UTC(2025, 6, 10));
    const again = events(place, nextSunriseMs + 1000).nextSunriseMs;
    expect(Math.abs(again - nextSunriseMs - DAY_MS)).toBeLessThan(3 * 60_000);
  });

  it('H04: tells polar day, polar night and an unknown place apart', () => {
    const tromso = at(69.65, 18.96);
    expect(sunEvents(tromso, Date.UTC(2024, 5, 21, 0))).toEqual({ kind: 'polar-day' });
    expect(sunEvents(tromso, Date.UTC(2024, 11, 21, 11))).toEqual({ kind: 'polar-night' });
    expect(sunEvents(null, Date.UTC(2024, 5, 21))).toEqual({ kind: 'unknown-place' });
    expect(sunEvents(at(Number.NaN, 18.96), Date.UTC(2024, 5, 21))).toEqual({ kind: 'unknown-place' });
    expect(sunEvents(at(69.65, Number.POSITIVE_INFINITY), Date.UTC(2024, 5, 21))).toEqual({ kind: 'unknown-place' });
  });

  it('H04: at any known place there are events, polar day or polar night, and the sun is where the word says', () => {
    fc.assert(
      fc.property(anyPlace, anyTime, (place, tMs) => {
        const found = sunEvents(place, tMs);
        const { elevationDeg } = sunPosition(place, tMs);
        if (found.kind === 'polar-day') expect(elevationDeg).toBeGreaterThan(-0.84);
        else if (found.kind === 'polar-night') expect(elevationDeg).toBeLessThan(-0.82);
        else expect(found.kind).toBe('events');
      }),
      { numRuns: 60 },
    );
  });

  it('H07: 179.9 and -179.9 are neighbours, and longitudes beyond the date line mean the same place', () => {
    const nowMs = Date.UTC(2025, 2, 1, 3);
    const east = events(at(-17, 179.9), nowMs);
    const west = events(at(-17, -179.9), nowMs);
    expect(Math.abs(east.nextSunriseMs - west.nextSunriseMs)).toBeLessThan(60_000);
    expect(Math.abs(east.nextSunsetMs - west.nextSunsetMs)).toBeLessThan(60_000);
    expect(events(at(-17, 180.1), nowMs)).toEqual(events(at(-17, -179.9), nowMs));
    expect([190, -190, 540, 179.5, -180, 180].map(normalLongitude)).toEqual([-170, 170, -180, 179.5, -180, -180]);
  });

  it('H07: a place at +05:45 has its events at its own sun, without hours of a zone', () => {
    // Kathmandu, 21 June: sunrise 05:09, sunset 19:02 of its own clock, so 23:24 and 13:17 UTC.
    const { nextSunriseMs, nextSunsetMs } = events(at(27.717, 85.324), Date.UTC(2024, 5, 20, 18));
    expect(Math.abs(nextSunriseMs - Date.UTC(2024, 5, 20, 23, 24))).toBeLessThan(2 * 60_000);
    expect(Math.abs(nextSunsetMs - Date.UTC(2024, 5, 21, 13, 17))).toBeLessThan(2 * 60_000);
  });
});

describe('the last sunset', () => {
  it('is the newest before now', () => {
    fc.assert(
      fc.property(lowLatitude, anyTime, (place, tMs) => {
        const setMs = lastSunset(place, tMs);
        if (setMs === null) throw new Error('no sunset at a low latitude');
        expect(setMs).toBeLessThanOrEqual(tMs);
        expect(events(place, setMs + 60_000).nextSunsetMs).toBeGreaterThan(tMs - 60_000);
      }),
      { numRuns: 40 },
    );
  });

  it('is not known in polar day or at an unknown place', () => {
    expect(lastSunset(at(69.65, 18.96), Date.UTC(2024, 5, 21))).toBeNull();
    expect(lastSunset(null, Date.UTC(2024, 5, 21))).toBeNull();
  });
});
