import { expect, test } from 'vitest';
import { quantitiesOf } from '../../../engine/alarms/quantities.ts';
import { noBox } from '../../../engine/alarms/seen.ts';
import { initialState } from '../../../engine/state.ts';
import { NOON_MS, rigOf, stepWith } from '../../helpers/engine-rig.ts';

const RIG = rigOf();
const OBSERVED = stepWith(initialState(RIG, NOON_MS - 10_000), NOON_MS, { 'bank.voltage': 26.4, 'bank.current': -5 }, RIG);
const WATCH = { thermometers: [], warmestC: 28, coldestC: 15, heartbeatOk: true, routeOk: true };
const blind = (overdue: boolean) => quantitiesOf(OBSERVED, RIG, { ...noBox, watch: { ...WATCH, overdue } }, NOON_MS).names('watch.blind');

test('that nobody has come back is among what the watch cannot see, and so raises its alarm', () => {
  expect(blind(true)).toContain('nobody has come back at the time that was named');
  expect(blind(false)).toEqual(blind(true).filter((name) => !name.startsWith('nobody')));
});
