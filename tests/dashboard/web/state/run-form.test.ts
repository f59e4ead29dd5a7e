import { expect, it } from 'vitest';
import { type RunForm, readRun } from '../../../../dashboard/web/src/state/run-form.ts';
import { EVENING_MS } from '../../../helpers/web-scenario-parts.ts';

const form: RunForm = { watts: '900', minutes: '50', start: 'now', time: '', peak: '' };
const read = (part: Partial<RunForm> = {}) => readRun({ ...form, ...part }, EVENING_MS + 0.4, 'Europe/Lisbon');

it('makes the question, from now or from the next such time of the rig', () => {
  expect(read().question).toEqual({ kind: 'run', powerW: 900, minutes: 50, startMs: EVENING_MS + 1, peakW: null, confidence: 0.9 });
  expect(read({ watts: ' 1,5 ', peak: '2500' }).question).toMatchObject({ powerW: 1.5, peakW: 2500 });
  expect(read({ start: 'at', time: '18:30' }).question?.startMs).toBe(Date.UTC(2026, 10, 24, 18, 30));
  expect(read({ start: 'at', time: '06:50' }).question?.startMs).toBe(Date.UTC(2026, 10, 25, 6, 50));
  expect(read({ start: 'at', time: '18:06' }).question?.startMs).toBe(EVENING_MS);
});

it('says of every field what is wrong with it', () => {
  expect(read({ watts: '', minutes: 'long', start: 'at', time: '25:00', peak: '-3' })).toEqual({
    question: null,
    faults: {
      watts: 'Enter the watts as a number.',
      minutes: 'Enter the minutes as a number.',
      peak: 'Enter the starting peak above 0 and up to 50000.',
      time: 'Enter when it starts, as hours and minutes.',
    },
  });
  expect(read({ watts: '20001', minutes: '0' }).faults).toEqual({
    watts: 'Enter the watts above 0 and up to 20000.',
    minutes: 'Enter the minutes above 0 and up to 1440.',
  });
  expect(read({ start: 'now', time: 'never' }).faults).toEqual({});
});
