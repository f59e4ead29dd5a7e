import { describe, expect, it } from 'vitest';
import { SIZES, screensBench } from '../../helpers/web-bench.ts';
import { rigHands } from '../../helpers/web-rig.ts';
import { newRigBook } from '../../helpers/web-rig-book.ts';

const screens = screensBench();
const last = () => screens.box.commands.at(-1);
const { withRig, goTo } = rigHands(screens);

describe('the guide', () => {
  it('stands where the balance would, saves step by step, loses nothing on the way back, and ends with live flows', async () => {
    await screens.changeDevice({ viewport: SIZES.phone });
    const { page, box } = screens;
    box.rig.book = newRigBook();
    box.play(withRig({ name: 'wren', settingUp: true }));
    await screens.open('balance');
    await page.getByText('Setting up, 1 of 4').waitFor();
    await page.getByLabel('Name', { exact: true }).fill('Wren');
    await page.getByLabel('Latitude').fill('39,6');
    const next = page.getByRole('button', { name: 'Save and go on' });
    await next.click();
    await page.getByText('Enter a number from -180 to 180°.').waitFor();
    expect(await page.evaluate('document.activeElement.id')).toBe('place-longitude');
    await page.getByLabel('Longitude').fill('-8.1');
    await next.click();
    await page.getByText('Setting up, 2 of 4').waitFor();
    expect(box.commands.map((command) => command.kind === 'edit-rig' && command.change)).toEqual([
      { what: 'rig', value: { id: 'wren', name: 'Wren', units: 'metric', settingUp: true } },
      { what: 'place', value: { latitude: 39.6, longitude: -8.1 } },
    ]);
    await page.getByRole('button', { name: '24 V' }).click();
    await page.getByLabel('Rated capacity').fill('280');
    await page.getByRole('link', { name: 'Back' }).click();
    await page.getByText('Setting up, 1 of 4').waitFor();
    await next.click();
    await page.getByText('8 × 3.2 V = 25.6 V nominal, a 24 V bank, 7.2 kWh when new.').waitFor();
    await page.getByRole('region', { name: 'Panels' }).getByLabel('Rated power').fill('1600');
    await page.getByLabel('There is a mini-split').check();
    await page.getByLabel('Lowest power').fill('140');
    await page.getByLabel('Highest power').fill('950');
    await next.click();
    await page.getByText('Setting up, 3 of 4').waitFor();
    expect(box.rig.book.sections).toMatchObject({
      bank: { cells: 8, capacityAh: 280 },
      panels: [{ watts: 1600, tilt: 0, azimuth: 0 }],
      inverter: null,
      minisplit: { minWatts: 140, maxWatts: 950, mode: 'cool', setpoints: [18, 28] },
    });
    await page.getByText('Connected for 26 h').waitFor();
    await next.click();
    await page.getByText('Setting up, 4 of 4').waitFor();
    expect(await page.getByText('Back', { exact: true }).count()).toBe(1);
    const { x = 0, y = 0, height = 0 } = (await page.getByRole('button', { name: 'Go on' }).boundingBox()) ?? {};
    expect(await page.evaluate(`document.elementFromPoint(${x + 9}, ${y + height - 4}).textContent`)).toBe('Go on');
    expect(await page.locator('nav [aria-current]').textContent()).toBe('Balance');
    await goTo('#/guide/end');
    await page.getByRole('img', { name: /Panels 118 W/ }).waitFor();
    await page.getByRole('button', { name: 'Finish' }).click();
    await expect.poll(last).toMatchObject({ kind: 'edit-rig', change: { what: 'set-up', done: true } });
    box.play(withRig({ name: 'Wren', settingUp: false }));
    await page.getByText('the bank holds.').first().waitFor();
    expect(await page.evaluate('location.hash')).toBe('#/balance');
  });

  it('says what the box still misses, and can be left and taken up again', async () => {
    const { page, box } = screens;
    box.rig.book = newRigBook();
    box.play(withRig({ settingUp: true }));
    await screens.open('guide/end');
    box.refuseCommands('still to be mapped, since nothing can be computed without it: bank.voltage');
    await page.getByRole('button', { name: 'Finish' }).click();
    await page.getByText('Not finished: still to be mapped').waitFor();
    await page.getByRole('link', { name: 'Leave the guide' }).click();
    await page.getByText('This rig is still being set up.').waitFor();
    await page.getByRole('link', { name: 'Go on with the guide' }).click();
    await page.getByText('Setting up, 1 of 4').waitFor();
  });
});
