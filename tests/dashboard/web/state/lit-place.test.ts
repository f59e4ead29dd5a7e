import { expect, it } from 'vitest';
import { litPlace } from '../../../../dashboard/web/src/state/lit-place.ts';

it('lights a place of the row in the guide too: the one that it stands for', () => {
  expect([litPlace('guide', true), litPlace('guide', false)]).toEqual(['balance', 'rig']);
  expect([litPlace('nights', true), litPlace('alarms', false)]).toEqual(['nights', 'alarms']);
});
