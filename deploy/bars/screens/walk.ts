import type { Page } from 'playwright-core';

const PLACES = ['balance', 'tonight', 'nights', 'alarms', 'sensors', 'rig'] as const;

/** Addresses of every place and of every part that a place offers, such as `alarms/rules`, as the screens themselves link to them. */
export async function everyPart(page: Page, url: string): Promise<string[]> {
  const found: string[] = [];
  for (const place of PLACES) {
    await goTo(page, url, place);
    const parts = (await page.evaluate(
      `[...document.querySelectorAll('main nav a[href^="#/${place}/"]')].map((link) => link.getAttribute('href').slice(2))`,
    )) as string[];
    found.push(...(parts.length > 0 ? parts : [place]));
  }
  return found;
}

/** What is worked out for long, such as rules looked at over the past, is not waited for longer than this, ms. */
const FETCH_MS = 15_000;

/** Opens a place or part and waits until it stands there with what it fetches. */
export async function goTo(page: Page, url: string, part: string): Promise<void> {
  if (page.url().startsWith(url)) await page.evaluate(`location.hash = '#/${part}'`);
  else await page.goto(`${url}/#/${part}`);
  await page.locator(`body > #app > * > nav a[aria-current='page'][href='#/${part.split('/')[0]}']`).waitFor();
  await page.locator('main h1, main h2').first().waitFor();
  await page.waitForLoadState('networkidle', { timeout: FETCH_MS }).catch(() => undefined);
  await page.evaluate('document.fonts.ready.then(() => undefined)');
}
