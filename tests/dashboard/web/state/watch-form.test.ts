import { describe, expect, it } from 'vitest';
import { watchedAt } from '../../../../dashboard/web/src/format/watch.ts';
import { readWatch, watchForm } from '../../../../dashboard/web/src/state/watch-form.ts';
import { WatchOrder } from '../../../../shared/schema/watch-mode.ts';
import { watchArmed } from '../../../helpers/web-alarms.ts';
import { EVENING_MS, H } from '../../../helpers/web-scenario-parts.ts';

const zone = 'Europe/Lisbon';
const filled = () => ({ ...watchForm('metric'), thermometers: ['cabin.temperature', 'cabin.floor'], until: '20:00', near: 'Ana, next rig', understood: true });

describe('the form of the watch', () => {
  it('gives an order that the box can read', () => {
    const { order } = readWatch(filled(), EVENING_MS, zone, 'metric');
    expect(WatchOrder.parse(order)).toMatchObject({ warmestC: 28, coldestC: 15, untilMs: Date.UTC(2026, 10, 24, 20, 0), near: 'Ana, next rig' });
    const us = readWatch({ ...filled(), warmest: '86', coldest: '50' }, EVENING_MS, zone, 'us').order;
    expect([us?.warmestC, us?.coldestC]).toEqual([30, 10]);
  });

  it.each([
    [{ thermometers: ['cabin.temperature'] }, 'thermometers'],
    [{ warmest: 'hot' }, 'warmest'],
    [{ warmest: '60' }, 'warmest'],
    [{ coldest: '-20' }, 'coldest'],
    [{ warmest: '18', coldest: '20' }, 'coldest'],
    [{ until: '' }, 'until'],
    [{ near: '  ' }, 'near'],
    [{ understood: false }, 'understood'],
  ])('is not sent with %j', (part, field) => {
    const { order, faults } = readWatch({ ...filled(), ...part }, EVENING_MS, zone, 'metric');
    expect([order, Object.keys(faults)]).toEqual([null, [field]]);
  });
});

it('the armed watch names the side of the limits on which each place is, and never calls an old value fine', () => {
  const view = watchArmed(EVENING_MS);
  const armed = view.armed ?? { sinceMs: EVENING_MS, by: '', thermometers: [], warmestC: 0, coldestC: 0, untilMs: EVENING_MS + H, near: '' };
  const wrongAt = (valueC: number | null, fresh: boolean) =>
    watchedAt({ ...view, thermometers: [{ signal: 'cabin.temperature', label: 'Cabin', valueC, fresh }] }, armed, 'metric')[0]?.wrong;
  expect([wrongAt(20, true), wrongAt(27.1, true), wrongAt(11, true), wrongAt(20, false), wrongAt(null, false)]).toEqual([
    '',
    'warmer than 27°C',
    'colder than 12°C',
    'silent, this value is old: go and look',
    'no value: go and look',
  ]);
  expect(watchedAt({ ...view, thermometers: [] }, armed, 'metric')[0]).toMatchObject({ label: 'cabin.temperature', text: '–' });
});
