import { expect, test } from 'vitest';
import { screensBench } from '../../helpers/web-bench.ts';
import { evening } from '../../helpers/web-scenario.ts';
import { EVENING_MS } from '../../helpers/web-scenario-parts.ts';

const screens = screensBench();

test('the box gives readings of the days and signals that are chosen, and none that cannot be', async () => {
  const { page } = screens;
  await screens.open('rig/box');
  const out = page.locator('section', { has: page.getByRole('heading', { name: 'Readings out' }) });
  const link = out.getByRole('link', { name: 'Download readings' });
  expect(await link.getAttribute('href')).toBe('/api/export?format=csv');
  await out.getByLabel('Packed with gzip').check();
  await out.getByLabel('First day').fill('2026-11-01');
  await out.getByLabel('Last day').fill('2026-11-20');
  expect(await link.getAttribute('href')).toBe('/api/export?format=csv&from=2026-11-01&to=2026-11-20&packed=yes');
  await out.getByText('Every signal').click();
  const names = evening().snapshot.signals.map(({ name }) => name);
  for (const name of names.filter((one) => one !== 'bank.voltage')) await out.getByLabel(name, { exact: true }).uncheck();
  await out.getByText(`1 of ${names.length} signals`).waitFor();
  await out.getByRole('button', { name: 'Parquet' }).click();
  expect(await link.getAttribute('href')).toBe('/api/export?format=parquet&from=2026-11-01&to=2026-11-20&signals=bank.voltage');
  await out.getByLabel('bank.voltage', { exact: true }).uncheck();
  await out.getByText('Choose at least one signal.').waitFor();
  expect(await link.count()).toBe(0);
  expect(await screens.violations()).toEqual([]);
});

test('the box takes readings in, says how far it is and what became of them, line by line', async () => {
  const { page, box } = screens;
  await screens.open('rig/box');
  const into = page.locator('section', { has: page.getByRole('heading', { name: 'Readings in' }) });
  await into.getByLabel('A file of readings').setInputFiles({ name: 'week.csv', mimeType: 'text/csv', buffer: Buffer.from('time,signal,value') });
  box.rig.transfer = { doing: 'import', share: 0.426, last: null };
  await into.getByRole('button', { name: 'Bring in' }).click();
  await into.getByText('42 % is looked through. The rig goes on meanwhile').waitFor();
  expect(box.rig.imported).toEqual(['time,signal,value']);
  box.rig.transfer = {
    ...{ doing: 'nothing', share: 0 },
    last: { endedMs: EVENING_MS, words: '7 readings were taken.', fault: '', why: [{ line: 3, reason: '<b>noon</b> is no time' }], refused: 9 },
  };
  await into.getByText('7 readings were taken.').waitFor();
  await into.getByText('What was left out').click();
  await into.getByText('Line 3: <b>noon</b> is no time').waitFor();
  await into.getByText('And 8 more.').waitFor();
  expect(await screens.violations()).toEqual([]);
  box.rig.transfer = {
    doing: 'nothing',
    share: 0,
    last: { endedMs: EVENING_MS, words: '', fault: 'this is nothing that can be imported', why: [], refused: 0 },
  };
  await into.getByText('Not brought in: this is nothing that can be imported').waitFor();
});
