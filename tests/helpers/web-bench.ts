import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import axe from 'axe-core';
import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach } from 'vitest';
import { startWebFixture, type WebFixture } from './web-fixture.ts';
import { buildScreens, launchBrowser } from './web-page.ts';
import { evening, type WebScenario } from './web-scenario.ts';

export const PLACES = ['balance', 'tonight', 'nights', 'alarms', 'sensors', 'rig'] as const;
export const SIZES = { tablet: { width: 1280, height: 800 }, phone: { width: 390, height: 844 } } as const;

/** The screens in a real browser, with a box and a page of their own for each test. */
export interface ScreensBench {
  /** Folder of the built screens. */
  readonly webRoot: string;
  readonly box: WebFixture;
  readonly page: Page;
  /** Opens a place and waits until the box has spoken. */
  open(place: string, look?: 'day' | 'night' | 'sun'): Promise<void>;
  /** Starts the box anew, on the port that it had, after it was closed. */
  restart(scenario: WebScenario): Promise<void>;
  /** Puts a page of another device in the place of the tablet's. */
  changeDevice(device: BrowserContextOptions): Promise<void>;
  /** What keeps the page as it is from being accessible, a line each. */
  violations(): Promise<string[]>;
}

/** Sets the bench up around the tests of the file that calls it. */
export function screensBench(): ScreensBench {
  let webRoot: string;
  let browser: Browser;
  let box: WebFixture;
  let page: Page;
  beforeAll(async () => {
    webRoot = await mkdtemp(join(tmpdir(), 'dawnhold-web-'));
    await buildScreens(webRoot);
    browser = await launchBrowser();
  });
  afterAll(async () => {
    await browser?.close();
    await rm(webRoot, { recursive: true, force: true });
  });
  beforeEach(async () => {
    box = await startWebFixture(webRoot, evening());
    page = await browser.newPage({ viewport: SIZES.tablet });
  });
  afterEach(async () => {
    await page.close();
    await box.close();
  });
  return {
    get webRoot() {
      return webRoot;
    },
    get box() {
      return box;
    },
    get page() {
      return page;
    },
    async open(place, look = 'day') {
      await page.addInitScript(`localStorage.setItem('dawnhold.look', '${look}')`);
      await page.goto(`${box.url}#/${place}`);
      await page.locator('main h1').first().waitFor();
    },
    async restart(scenario) {
      box = await startWebFixture(webRoot, scenario, box.port);
    },
    async changeDevice(device) {
      await page.close();
      page = await browser.newPage(device);
    },
    async violations() {
      await page.evaluate(axe.source);
      const { violations } = (await page.evaluate('axe.run(document)')) as axe.AxeResults;
      return violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html).join(' ')}`);
    },
  };
}
