import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeOtherBuild } from '../../helpers/other-build.ts';
import { alarmOf } from '../../helpers/web-alarm.ts';
import { SIZES, screensBench } from '../../helpers/web-bench.ts';
import { startWebFixture } from '../../helpers/web-fixture.ts';
import { evening, SCENARIOS, type WebScenario } from '../../helpers/web-scenario.ts';
import { EVENING_MS } from '../../helpers/web-scenario-parts.ts';

const screens = screensBench();
const H = 3_600_000;
const FRESH = 'all 11 signals fresh';

/** The page says by it whether it was loaded again. */
const mark = () => screens.page.evaluate('window.stays = true');
const stays = () => screens.page.evaluate('window.stays === true');
const moved = () => screens.page.evaluate("document.querySelector('.shell').style.translate");
/** Waits until it is so in the page, which may be loaded again meanwhile. */
const comes = (what: string) => expect.poll(() => screens.page.evaluate(what).catch(() => 'between pages'), { timeout: 20_000 }).toBe(true);
const isReloaded = () => comes('window.stays !== true');
/** Opens a place and waits until what keeps the page for weeks is there. */
async function open(place: string) {
  const came = screens.page.waitForResponse((answer) => answer.url().includes('/WallKeeper'));
  await screens.open(place);
  await came;
}

describe('an upgrade of the box', () => {
  let other: string;
  let upgraded: Awaited<ReturnType<typeof startWebFixture>> | null = null;
  beforeAll(async () => {
    other = await mkdtemp(join(tmpdir(), 'dawnhold-other-'));
    await makeOtherBuild(screens.webRoot, other);
  });
  afterAll(async () => {
    await upgraded?.close();
    await rm(other, { recursive: true, force: true });
  });

  /** The box goes and comes back with another build of the screens. */
  async function upgrade() {
    const { port } = screens.box;
    await screens.box.close();
    await screens.page.getByText('No contact with the box').waitFor();
    await upgraded?.close();
    upgraded = await startWebFixture(other, evening(), port);
  }
  const entry = () => screens.page.evaluate("document.querySelector('script[type=module]').src");

  it('is followed by itself, at the same place and part', async () => {
    const { page } = screens;
    await open('alarms/rules');
    const before = await entry();
    await mark();
    await upgrade();
    await isReloaded();
    await page.getByText(FRESH).waitFor();
    expect(await entry()).not.toBe(before);
    expect(page.url()).toMatch(/#\/alarms\/rules$/);
    await page.locator('nav a[aria-current="page"]', { hasText: 'Rules' }).waitFor();
  });

  it('waits while somebody types, and for half a minute after the last touch', async () => {
    const { page } = screens;
    await page.clock.install();
    await open('tonight');
    await mark();
    await page.locator('main input').first().click();
    const looks = page.waitForResponse((answer) => new URL(answer.url()).pathname === '/');
    await upgrade();
    await looks;
    await page.clock.runFor(90_000);
    expect(await stays()).toBe(true);
    await page.evaluate('document.activeElement.blur()');
    await page.mouse.move(200, 300);
    await page.clock.runFor(20_000);
    expect(await stays()).toBe(true);
    await page.clock.runFor(15_000).catch(() => undefined);
    await isReloaded();
  });

  it('fetches a place whose file is gone by loading the page again at once', async () => {
    await screens.changeDevice({ viewport: SIZES.tablet, serviceWorkers: 'block' });
    const { page } = screens;
    await page.route('**/assets/Rig-*', (route) => (route.request().url().includes('x.') ? route.continue() : route.abort()));
    await open('balance');
    await page.locator('header').click();
    await upgrade();
    await page.getByText(FRESH).waitFor();
    await page.getByRole('link', { name: 'Rig', exact: true }).click();
    await page.getByRole('heading', { name: 'Look of this device' }).waitFor();
  });
});

describe('the weekly loading', () => {
  const noonMs = EVENING_MS - 6 * H + 14 * 60_000;

  async function lives(scenario: WebScenario) {
    const { page } = screens;
    await page.clock.install();
    screens.box.play(scenario);
    await open('sensors');
    await mark();
    await page.clock.fastForward(6.6 * 24 * H);
    await page.getByText(FRESH).waitFor();
    await page.clock.runFor(5000).catch(() => undefined);
  }

  it('comes at noon on a page that nobody touches', async () => {
    await lives(evening(noonMs));
    await isReloaded();
    await screens.page.getByText(FRESH).waitFor();
    expect(screens.page.url()).toMatch(/#\/sensors$/);
  });

  it('does not come in the evening', async () => {
    await lives(evening());
    expect(await stays()).toBe(true);
  });

  it('does not come while an alarm waits for somebody', async () => {
    const calm = evening(noonMs);
    await lives({ ...calm, snapshot: { ...calm.snapshot, alarms: [alarmOf({ id: 'bank-low', condition: true, lifecycle: 'unacknowledged' })] } });
    expect(await stays()).toBe(true);
  });
});

describe('keeping the screen on', () => {
  /** A browser's wake lock that writes down who asks for it and can be taken away. */
  const LOCK = `window.held = 0; window.asked = 0; Object.defineProperty(navigator, 'wakeLock', { value: { request: async () => {
    asked += 1; held += 1;
    const lock = new EventTarget();
    lock.release = async () => { if (lock.gone) return; lock.gone = true; held -= 1; lock.dispatchEvent(new Event('release')); };
    window.takeAway = () => lock.release();
    return lock;
  } } });`;
  const held = (count: number) => comes(`window.held === ${count}`);

  it('lasts while an alarm calls for somebody, is taken again after the page was hidden, and ends with the acknowledgement', async () => {
    const { page } = screens;
    await page.addInitScript(LOCK);
    await open('balance');
    expect(await page.evaluate('window.asked')).toBe(0);
    screens.box.play(SCENARIOS.short());
    await held(1);
    await page.evaluate('window.takeAway()');
    await held(0);
    await page.evaluate("document.dispatchEvent(new Event('visibilitychange'))");
    await held(1);
    await page.getByRole('button', { name: 'Acknowledge' }).click();
    await held(0);
    expect(await page.evaluate('window.asked')).toBe(2);
  });

  it('is a choice of this device that outlives the page', async () => {
    const { page } = screens;
    await page.addInitScript(LOCK);
    await screens.open('rig');
    await page.getByText('The screen goes off as the device is set').waitFor();
    const choice = page.getByRole('button', { name: 'Keep the screen on always' });
    await choice.click();
    await held(1);
    await page.getByText('The screen is kept on now.').waitFor();
    await page.reload();
    await held(1);
    await page.getByText('The screen is kept on now.').waitFor();
    await choice.click();
    await held(0);
  });

  it('is said to be impossible where the browser has no way', async () => {
    const { page } = screens;
    await page.addInitScript('delete Navigator.prototype.wakeLock');
    await screens.open('rig');
    await page.getByText('This browser cannot keep the screen on.').waitFor();
    expect(await page.getByRole('button', { name: 'Keep the screen on always' }).count()).toBe(0);
  });
});

it('moves the page by a pixel after minutes without a touch, without scroll bars, and not under a hand', async () => {
  const { page } = screens;
  await page.clock.install();
  await open('balance');
  const size = () => page.evaluate('[document.documentElement.scrollWidth, document.documentElement.scrollHeight]');
  const before = await size();
  await page.clock.runFor(150_000);
  await page.mouse.move(100, 100);
  await page.clock.runFor(50_000);
  expect(await moved()).toBe('');
  await page.clock.runFor(20_000);
  expect(await moved()).toBe('-1px');
  await page.clock.runFor(200_000);
  expect(await moved()).toBe('-2px');
  expect(await size()).toEqual(before);
});

describe('ages', () => {
  /** A tablet whose clock is seven hours ahead, and can jump on as after a sleep in which the steady clock stood still. */
  const CLOCK = 'window.aheadMs = 7 * 3_600_000; const real = Date.now.bind(Date); Date.now = () => real() + window.aheadMs;';

  it('go by the rig, whatever the clock of the tablet says', async () => {
    const { page } = screens;
    await page.addInitScript(CLOCK);
    await screens.open('sensors');
    await page.getByText(FRESH).waitFor();
    await comes("document.querySelector('.clock').textContent === '18:06'");
    const words = await page.locator('main').textContent();
    expect(words).not.toMatch(/\b[678] h\b/);
    expect(words).toContain('Broker connected for 26 h');
  });

  it('count a sleep of five minutes while the box is away', async () => {
    const { page } = screens;
    await page.addInitScript(CLOCK);
    await screens.open('balance');
    await page.getByText(FRESH).waitFor();
    await screens.box.close();
    await page.getByText('No contact with the box').waitFor();
    await page.evaluate('window.aheadMs += 300_000');
    await page.getByText('No contact with the box for 5 min').waitFor();
    await page.locator('dl').getByText('5 min old').first().waitFor();
    await comes("document.querySelector('.clock').textContent === '18:11'");
    await screens.restart(evening(EVENING_MS + 300_000));
    await page.getByText(FRESH).waitFor();
    expect(await page.getByText('5 min old').count()).toBe(0);
  });

  it('are right again at once after a sleep with the box there', async () => {
    const { page } = screens;
    await page.addInitScript(CLOCK);
    await screens.open('balance');
    await page.getByText(FRESH).waitFor();
    await page.evaluate('window.aheadMs += 300_000');
    await page.getByText(FRESH).waitFor();
    await comes("document.querySelector('.clock').textContent === '18:06'");
  });
});
