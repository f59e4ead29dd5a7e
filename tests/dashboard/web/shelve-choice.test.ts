import { expect, it } from 'vitest';
import { troubled } from '../../helpers/web-alarms.ts';
import { screensBench } from '../../helpers/web-bench.ts';

const screens = screensBench();

it('the choices of shelving are closed by Escape and by an acknowledgement', async () => {
  const { page, box } = screens;
  box.play(troubled());
  await screens.open('alarms');
  const bank = page.getByRole('article', { name: 'The bank tonight' });
  const opener = bank.getByRole('button', { name: 'Shelve The bank tonight' });
  await opener.click();
  await bank.getByRole('button', { name: 'For 1 h' }).waitFor();
  await page.keyboard.press('Escape');
  await expect.poll(() => bank.getByRole('button', { name: 'For 1 h' }).count()).toBe(0);
  expect(await opener.evaluate((button) => button.matches(':focus'))).toBe(true);
  await opener.click();
  await bank.getByRole('button', { name: 'For 1 h' }).waitFor();
  await bank.getByRole('button', { name: 'Acknowledge' }).click();
  await bank.getByText(/acknowledged by Tablet at/i).waitFor();
  await expect.poll(() => bank.getByRole('button', { name: 'For 1 h' }).count()).toBe(0);
});
