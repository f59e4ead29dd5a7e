import { expect, it } from 'vitest';
import { TONES, toneFor } from '../../../../dashboard/web/src/state/priority.ts';
import { countText, needsAcknowledging, standing, stateText } from '../../../../dashboard/web/src/state/standing.ts';
import type { Alarm } from '../../../../shared/schema/alarm.ts';
import { alarmOf } from '../../../helpers/web-alarm.ts';

const alarm = (part: Partial<Alarm>): Alarm => alarmOf({ id: 'low-point', condition: true, lifecycle: 'unacknowledged', occurrence: 1, ...part });

it('keeps an alarm standing until it is normal and acknowledged, the loudest first', () => {
  const acknowledged = alarm({ id: 'a', lifecycle: 'acknowledged', priority: 'critical' });
  const low = alarm({ id: 'b', priority: 'low' });
  const high = alarm({ id: 'c', priority: 'high' });
  const normal = alarm({ id: 'd', lifecycle: 'normal', condition: false });
  expect(standing([acknowledged, normal, low, high]).map((a) => a.id)).toEqual(['c', 'b', 'a']);
});

it('counts a condition that cannot be told as standing, never as normal', () => {
  const unknown = alarm({ condition: 'unknown', lifecycle: 'normal' });
  expect(standing([unknown])).toEqual([unknown]);
  expect(stateText(unknown)).toBe("can't be told, normal");
});

it('counts what is over apart from what stands, and puts it last', () => {
  const over = alarm({ id: 'over', condition: false, lifecycle: 'returned', priority: 'critical' });
  const stands = alarm({ id: 'stands', lifecycle: 'acknowledged', priority: 'low' });
  expect(standing([over, stands]).map((a) => a.id)).toEqual(['stands', 'over']);
  expect(countText([])).toBe('No alarms');
  expect(countText([over])).toBe('No alarms, 1 over');
  expect(countText([over, stands, alarm({})])).toBe('2 alarms, 1 over');
  expect(stateText(over)).toBe('over, not yet acknowledged');
});

it('leaves shelved alarms and those out of service aside', () => {
  expect(standing([alarm({ suppression: 'shelved' }), alarm({ suppression: 'out-of-service' })])).toEqual([]);
  expect(stateText(alarm({ suppression: 'out-of-service' }))).toBe('out of service');
});

it('asks for acknowledging after the return to normal too', () => {
  expect((['normal', 'unacknowledged', 'acknowledged', 'returned'] as const).map((lifecycle) => needsAcknowledging(alarm({ lifecycle })))).toEqual([
    false,
    true,
    false,
    true,
  ]);
});

it('sounds for the loudest unacknowledged alarm of medium priority or higher', () => {
  expect(toneFor([alarm({ priority: 'low' })])).toBeNull();
  expect(toneFor([alarm({ priority: 'low' }), alarm({ priority: 'high' }), alarm({ priority: 'medium' })])).toBe(TONES.high);
  expect(toneFor([alarm({ lifecycle: 'acknowledged', priority: 'critical' }), alarm({ suppression: 'shelved', priority: 'high' })])).toBeNull();
  expect(toneFor([alarm({ priority: 'high', sounds: false }), alarm({ priority: 'low', sounds: true })])).toBe(TONES.low);
  expect(toneFor([alarm({ priority: 'critical', sounds: false })])).toBe(TONES.critical);
});
