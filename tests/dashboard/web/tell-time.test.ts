import { expect, test } from 'vitest';
import { screensBench } from '../../helpers/web-bench.ts';
import { evening } from '../../helpers/web-scenario.ts';
import { EVENING_MS } from '../../helpers/web-scenario-parts.ts';

const screens = screensBench();

test('a box that nobody has told the time says what waits for it, and is told by a touch', async () => {
  const { page, box } = screens;
  const { health } = evening().snapshot;
  const unsure = { ...health, clockDoubt: 'nobody has told the box the time since it started', held: { readings: 12_345, isFull: false } };
  await screens.open('rig/box');
  await page.getByText('All is well.').waitFor();
  box.change({ serverMs: EVENING_MS, health: unsure });
  await page.getByText('Not well: clock.').waitFor();
  await page.getByText(/^Nobody has told.* 12.345 readings wait for it, and none are lost/).waitFor();
  expect(await page.getByText('No more fit.').count()).toBe(0);
  expect(await screens.violations()).toEqual([]);
  box.refuseCommands('a time server has set the clock of the box, and knows better');
  const button = page.getByRole('button', { name: 'Give the box this time' });
  await button.click();
  await page.getByText('Not taken: a time server has set the clock').waitFor();
  box.refuseCommands('');
  const beforeMs = Date.now();
  await button.click();
  await expect.poll(() => box.commands.at(-1)).toMatchObject({ kind: 'tell-time' });
  const last = box.commands.at(-1);
  expect(last?.kind === 'tell-time' && last.wallMs >= beforeMs && last.wallMs <= Date.now()).toBe(true);
  box.change({ serverMs: EVENING_MS, health: { ...unsure, held: { readings: 12_345, isFull: true } } });
  await page.getByText('No more fit. Newer readings are kept, as doubtful, at a guessed time.').waitFor();
  box.change({ serverMs: EVENING_MS, health: { ...health, clockDoubt: null, held: null } });
  await page.getByText('All is well.').waitFor();
  expect(await button.count()).toBe(0);
});
