import { expect, it } from 'vitest';
import { dayRemark, evidenceOf, leanText, loadsWh, placeText, recordText, remarkText, spanOfNights } from '../../../../dashboard/web/src/format/ledger.ts';
import { days } from '../../../helpers/web-ledger.ts';
import { nights } from '../../../helpers/web-scenario-parts.ts';

const [plain, judged] = days(2);

it('tells what the panels did not give, small losses left out, and each evidence once', () => {
  expect(judged && dayRemark(judged)).toBe('Lost: 1.7 kWh to cloud, 0.6 kWh to a full bank');
  expect(plain && dayRemark(plain)).toBe('');
  expect(judged && dayRemark({ ...judged, panelLosses: [], coverage: 0.89 })).toBe('with gaps');
  expect(judged && evidenceOf([judged, judged])).toEqual([
    ['cloud', 'it comes and goes'],
    ['a full bank', 'the bank takes no more'],
  ]);
});

it('adds the loads up, and knows none where the standing loads are not known', () => {
  expect(plain && loadsWh(plain)).toBe(3500);
  expect(plain && loadsWh({ ...plain, minisplitWh: null, inverterWh: null })).toBe(2000);
  expect(plain && loadsWh({ ...plain, standingWh: null })).toBeNull();
});

it('names places and spans of nights', () => {
  expect(placeText({ latitudeDeg: -41.234, longitudeDeg: 8.1 })).toBe('41.23° S, 8.10° E');
  expect(placeText(null)).toBe('place not known');
  expect(spanOfNights('2026-11-05', '2026-11-25')).toBe('5 Nov to 25 Nov');
  expect(spanOfNights('2026-11-05', '2026-11-05')).toBe('5 Nov');
});

it('says how what was said did, and to which side it leaned', () => {
  expect(recordText({ meanErrorPct: 1.94, inside: 25, nights: Array(30) }, 'sunset')).toBe(
    'Said at sunset, and what came: off by 1.9 points on average, inside the range 25 nights of 30.',
  );
  expect(recordText({ meanErrorPct: null, inside: 0, nights: [] }, 'bedtime')).toBe('');
  expect(leanText(1.5)).toBe('What was said was on average 1.5 points too low.');
  expect(leanText(-3)).toBe('What was said was on average 3 points too high.');
  expect([leanText(0.3), leanText(null)]).toEqual(Array(2).fill('What was said leans to neither side.'));
});

it('remarks on what came in and on what is kept out of learning, small charges left out', () => {
  const [row] = nights(1);
  expect(row && remarkText(row)).toBe('');
  expect(row && remarkText({ ...row, chargersWh: 99, unexplainedChargeWh: 99 })).toBe('');
  expect(row && remarkText({ ...row, unexplainedChargeWh: 800 })).toBe('0.8 kWh came in from no known source');
  expect(row && remarkText({ ...row, chargersWh: 2100, learnedFrom: false, coverage: 0.7 })).toBe('2.1 kWh from other chargers; gaps: kept out of learning');
});
