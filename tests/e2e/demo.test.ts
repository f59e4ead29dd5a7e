import { expect, test } from 'vitest';
import { snapshotOf } from '../../deploy/bars/live-snapshot.ts';
import { openChromium, startBuilt, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { ROOT } from '../helpers/source-files.ts';

test('without a rig file the demo runs, has learned from weeks before, sends live data and says on every screen that it is a demo', async () => {
  const folder = await temporaryFolder();
  const program = await startBuilt(['--pace', '60', '--data', folder.path], ROOT);
  const browser = await openChromium();
  try {
    const snapshot = await until(
      async () => {
        const now = await snapshotOf(program.url);
        return now.states.every(({ freshness }) => freshness === 'fresh') && now;
      },
      'live data of every signal',
      program.said,
    );
    expect(snapshot.rig).toMatchObject({ demo: true, pace: 60 });
    expect(snapshot.projection?.nights).toBeGreaterThanOrEqual(10);
    const page = await browser.newPage();
    for (const place of ['balance', 'tonight', 'nights', 'alarms', 'sensors', 'rig']) {
      await page.goto(`${program.url}/#/${place}`);
      await page.getByText(/demo/i).first().waitFor();
    }
  } finally {
    await browser.close();
    await program.end();
    await folder.remove();
  }
});
