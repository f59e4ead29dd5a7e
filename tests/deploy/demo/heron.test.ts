import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { parse } from 'yaml';
import { decodePayload } from '../../../collector/mqtt/decode.ts';
import { PLACE } from '../../../deploy/demo/place.ts';
import { createSimulatedRig } from '../../../deploy/demo/rig.ts';
import { Forecast } from '../../../shared/schema/reading.ts';
import { RigFile, signalQuantity } from '../../../shared/schema/rig-file.ts';
import { MODES } from '../../../shared/units.ts';

const rigFile = RigFile.parse(parse(readFileSync(new URL('../../../deploy/demo/heron.yaml', import.meta.url), 'utf8')));
const START_MS = Date.UTC(2026, 10, 10);
const sent = new Map<string, string>();
createSimulatedRig({ seed: 2, startMs: START_MS }).advance(START_MS + 7 * 3_600_000, ({ topic, payload }) => sent.set(topic, payload));

test('the rig file stands where the simulated rig does', () => {
  expect(rigFile.place).toEqual({ latitude: PLACE.latitudeDeg, longitude: PLACE.longitudeDeg, timeZone: PLACE.timeZone });
});

test('every topic of the rig file is sent, and one more that no signal uses', () => {
  const { specs, forecast } = rigFile.signals;
  const mapped = new Set([...[...specs.values()].map((spec) => spec.topic ?? ''), forecast?.topic ?? '']);
  expect([...mapped].filter((topic) => !sent.has(topic))).toEqual([]);
  expect([...sent.keys()].filter((topic) => !mapped.has(topic))).toEqual(['heron/tank/level']);
});

test('the forecast fits its schema and looks two days ahead', () => {
  const forecast = Forecast.parse(JSON.parse(sent.get('heron/forecast') ?? ''));
  expect(forecast.issuedMs).toBe(START_MS + 6 * 3_600_000);
  expect(forecast.points.at(-1)?.tMs).toBe(forecast.issuedMs + 48 * 3_600_000);
});

test("the collector reads every signal from the boards' payloads, in the units kept", () => {
  const read = (name: string) => {
    const spec = rigFile.signals.specs.get(name);
    const quantity = spec && signalQuantity(name, spec);
    if (!spec?.topic || !quantity) return null;
    const decoded = decodePayload(new TextEncoder().encode(sent.get(spec.topic)), { ...spec, topic: spec.topic }, quantity, START_MS);
    return decoded.ok ? decoded.value : null;
  };
  const values = new Map([...rigFile.signals.specs.keys()].map((name) => [name, read(name)]));
  expect([...values].filter(([, value]) => value === null)).toEqual([]);
  expect(values.get('bank.current')).toBeLessThan(-1);
  expect(values.get('cabin.temperature')).toBeGreaterThan(10);
  expect(values.get('cabin.temperature')).toBeLessThan(30);
  expect(values.get('minisplit.mode')).toBe(MODES.indexOf('heat'));
});
