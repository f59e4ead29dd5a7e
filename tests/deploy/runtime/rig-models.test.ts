import { expect, test } from 'vitest';
import { createRigModels } from '../../../deploy/runtime/rig-models.ts';
import { RigFile } from '../../../shared/schema/rig-file.ts';
import { readingsAt } from '../../helpers/engine-rig.ts';

const fileWith = (signals: Record<string, unknown>) =>
  RigFile.parse({
    rig: { id: 'finch', name: 'Finch' },
    place: { latitude: 38.7, longitude: -9.1 },
    bank: { cells: 8, capacityAh: 200 },
    signals: { ...signals, 'bank.voltage': { topic: 'v' }, 'bank.current': { topic: 'a' } },
  });

test('the time zone follows the position, until an edit takes the position out of the rig file', () => {
  const models = createRigModels(fileWith({ 'place.lat': { topic: 'lat' }, 'place.lon': { topic: 'lon' } }));
  models.follow(readingsAt(0, { 'place.lat': 60.2, 'place.lon': 24.9 }));
  expect(models.current().timeZone).toBe('Europe/Helsinki');
  models.replaceFile(fileWith({}));
  expect(models.current().timeZone).toBe('Europe/Lisbon');
  models.follow(readingsAt(0, { 'bank.voltage': 26 }));
  expect(models.current().timeZone).toBe('Europe/Lisbon');
});
