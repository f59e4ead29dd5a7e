import { expect, it } from 'vitest';
import { type RunForm, readRun, steppedMinutes, steppedTime, typedFaults, withPreset } from '../../../../dashboard/web/src/state/run-form.ts';
import { EVENING_MS } from '../../../helpers/web-scenario-parts.ts';

const form: RunForm = { watts: '900', minutes: '50', time: '', peak: '' };
const read = (part: Partial<RunForm> = {}) => readRun({ ...form, ...part }, EVENING_MS + 0.4, 'Europe/Lisbon', 0.85);

it('makes the question, from now or from the next such time of the rig', () => {
  expect(read().question).toEqual({ kind: 'run', powerW: 900, minutes: 50, startMs: EVENING_MS + 1, peakW: null, confidence: 0.85 });
  expect(read({ watts: ' 1,5 ', peak: '2500' }).question).toMatchObject({ powerW: 1.5, peakW: 2500 });
  expect(read({ time: '18:30' }).question?.startMs).toBe(Date.UTC(2026, 10, 24, 18, 30));
  expect(read({ time: '06:50' }).question?.startMs).toBe(Date.UTC(2026, 10, 25, 6, 50));
  expect(read({ time: '18:06' }).question?.startMs).toBe(EVENING_MS);
});

it('says of every field what is wrong with it', () => {
  expect(read({ watts: '', minutes: 'long', time: '25:00', peak: '-3' })).toEqual({
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
});

it('blames what was typed before it blames what is still empty', () => {
  const typed = { watts: 'abc', minutes: ' ', time: '25:99', peak: '' };
  expect(Object.keys(typedFaults(typed, read(typed).faults))).toEqual(['watts', 'time']);
  expect(typedFaults(form, read().faults)).toEqual({});
});

it('takes a load of the person over, and keeps how long where that is not said', () => {
  const at = { ...form, time: '19:00', peak: '2000' };
  expect(withPreset(at, { name: 'oven', powerW: 1200, minutes: 40, peakW: null })).toEqual({ watts: '1200', minutes: '40', time: '19:00', peak: '' });
  expect(withPreset(at, { name: 'pump', powerW: 60, minutes: null, peakW: 300 })).toEqual({ watts: '60', minutes: '50', time: '19:00', peak: '300' });
});

it('steps the start by quarters of an hour, round midnight, and back to now but not past it', () => {
  const step = (time: string, direction: 1 | -1) => steppedTime(time, direction, EVENING_MS, 'Europe/Lisbon');
  expect([step('', 1), step('18:15', 1), step('18:20', 1), step('23:50', 1)]).toEqual(['18:15', '18:30', '18:30', '00:00']);
  expect([step('18:30', -1), step('18:20', -1), step('18:15', -1), step('', -1), step('00:10', -1)]).toEqual(['18:15', '18:15', '', '', '00:00']);
  expect(steppedTime('', 1, EVENING_MS, 'Asia/Kathmandu')).toBe('00:00');
});

it('steps the minutes by whole fives, within what can be planned', () => {
  expect(['', '50', '52', '1440', 'x'].map((minutes) => steppedMinutes(minutes, 1))).toEqual(['5', '55', '55', '1440', '5']);
  expect(['', '50', '52', '5', '3'].map((minutes) => steppedMinutes(minutes, -1))).toEqual(['5', '45', '50', '5', '5']);
});
