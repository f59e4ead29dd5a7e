import { describe, expect, it } from 'vitest';
import { SECTORS, sectorOf } from '../../../engine/panels/horizon.ts';
import { clearSkyPanelsW, clearSkySeriesW } from '../../../engine/panels/panel-model.ts';
import { clearSkyAt } from '../../../engine/sun/clear-sky.ts';
import { sunEvents, sunPosition } from '../../../engine/sun/sun.ts';
import { HOUR_MS, NOON_MS } from '../../helpers/engine-rig.ts';

const place = { latitudeDeg: 38, longitudeDeg: 0 };
const flat = { panels: [{ ratedW: 1000, tiltDeg: 0, azimuthDeg: 0 }] };
const tilted = (azimuthDeg: number) => ({ panels: [{ ratedW: 1000, tiltDeg: 40, azimuthDeg }] });

describe('what the panels give under a clear sky', () => {
  it('is a sixth under the global irradiance for level panels: the heat of the cells, and a little at the glass', () => {
    const global = clearSkyAt(place, NOON_MS).irradiance.globalWm2;
    // Cells at 20 + 0.048 K a W/m2 lose 0.35 % a kelvin over 25 deg C.
    const heat = 1 - 0.0035 * (20 + 0.048 * global - 25);
    expect(clearSkyPanelsW(flat, place, NOON_MS, 0) / (global * heat)).toBeGreaterThan(0.98);
    expect(clearSkyPanelsW(flat, place, NOON_MS, 0) / (global * heat)).toBeLessThan(1.001);
  });

  it('is more on a cold day, by 0.35 % a kelvin', () => {
    const at = (airC: number) => clearSkyPanelsW(flat, place, NOON_MS, 0, { airC });
    expect(at(20)).toBe(clearSkyPanelsW(flat, place, NOON_MS, 0));
    expect((at(0) - at(20)) / at(20)).toBeCloseTo((0.0035 * 20) / (1 - 0.0035 * 43), 1);
    const series = clearSkySeriesW(flat, place, 0, NOON_MS, 600_000, 4, { airC: [0, 0, 0, 0] });
    expect([...series].every((w, i) => w > (clearSkySeriesW(flat, place, 0, NOON_MS, 600_000, 4)[i] as number))).toBe(true);
  });

  it('shifts towards the morning where the rig leans to the east', () => {
    const gain = (hours: number) =>
      clearSkyPanelsW(flat, place, NOON_MS + hours * HOUR_MS, 0, { lean: [0.05, 0] }) / clearSkyPanelsW(flat, place, NOON_MS + hours * HOUR_MS, 0);
    expect(gain(-5)).toBeGreaterThan(1.05);
    expect(gain(5)).toBeLessThan(0.95);
  });

  it('keeps only the light of the sky behind a known horizon', () => {
    const { azimuthDeg, elevationDeg } = sunPosition(place, NOON_MS);
    const horizon = (heightDeg: number) => Array.from({ length: SECTORS }, (_, i) => (i === sectorOf(azimuthDeg) ? heightDeg : null));
    const open = clearSkyPanelsW(flat, place, NOON_MS, 0);
    expect(clearSkyPanelsW(flat, place, NOON_MS, 0, { horizon: horizon(elevationDeg - 1) })).toBe(open);
    expect(clearSkyPanelsW(flat, place, NOON_MS, 0, { horizon: horizon(elevationDeg + 1) })).toBeLessThan(0.2 * open);
  });

  it('follows the sun for tilted panels, and turns with the vehicle', () => {
    const morningMs = NOON_MS - 4 * HOUR_MS;
    const east = clearSkyPanelsW(tilted(90), place, morningMs, 0);
    expect(east).toBeGreaterThan(1.2 * clearSkyPanelsW(flat, place, morningMs, 0));
    expect(clearSkyPanelsW(tilted(270), place, morningMs, 0)).toBeLessThan(0.5 * east);
    expect(clearSkyPanelsW(tilted(0), place, morningMs, 90)).toBeCloseTo(east, 6);
  });

  it('is nothing at night, and adds up over panels', () => {
    expect(clearSkyPanelsW(flat, place, NOON_MS + 12 * HOUR_MS, 0)).toBe(0);
    const both = { panels: [...flat.panels, ...tilted(90).panels] };
    expect(clearSkyPanelsW(both, place, NOON_MS, 0)).toBeCloseTo(clearSkyPanelsW(flat, place, NOON_MS, 0) + clearSkyPanelsW(tilted(90), place, NOON_MS, 0), 6);
  });

  it('reaches a tenth of the rated power only an hour after a June sunrise at 35 deg', () => {
    const at35 = { latitudeDeg: 35, longitudeDeg: 0 };
    const events = sunEvents(at35, Date.UTC(2025, 5, 21));
    if (events.kind !== 'events') throw new Error(events.kind);
    const minutes = Array.from({ length: 180 }, (_, i) => i).find((i) => clearSkyPanelsW(flat, at35, events.nextSunriseMs + i * 60_000, 0) >= 100);
    expect(minutes).toBeGreaterThan(45);
    expect(minutes).toBeLessThan(75);
  });

  it('comes as a series whose in-between steps lie within 2 W per kW of the real ones by day', () => {
    const startMs = NOON_MS - 5 * HOUR_MS;
    for (const count of [1, 2, 7, 60]) {
      const series = clearSkySeriesW(flat, place, 0, startMs, 600_000, count);
      expect(series.length).toBe(count);
      series.forEach((w, i) => {
        expect(Math.abs(w - clearSkyPanelsW(flat, place, startMs + (i + 0.5) * 600_000, 0))).toBeLessThan(2);
      });
    }
    expect([...clearSkySeriesW(flat, null, 0, startMs, 600_000, 3)]).toEqual([0, 0, 0]);
    expect([...clearSkySeriesW({ panels: [] }, place, 0, startMs, 600_000, 3)]).toEqual([0, 0, 0]);
  });
});
