import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { ReachView } from '../../../shared/schema/notice.ts';
import { ROOT } from '../../helpers/source-files.ts';
import { reachView } from '../../helpers/web-alarm-book.ts';
import { SIZES, screensBench } from '../../helpers/web-bench.ts';
import { evening } from '../../helpers/web-scenario.ts';
import { EVENING_MS } from '../../helpers/web-scenario-parts.ts';

const screens = screensBench();
const pictures = join(ROOT, 'dist/screens');
mkdirSync(pictures, { recursive: true });

const KEY = Buffer.from(Uint8Array.from({ length: 65 }, (_, i) => (i === 0 ? 4 : i))).toString('base64url');
/** The rig's list of phones. */
const reachOf = (...names: string[]): ReachView => {
  const view = reachView(EVENING_MS);
  return {
    ...view,
    routes: view.routes.map((route) => (route.kind === 'push' ? { ...route, targets: names.map((name) => ({ id: `id of ${name}`, name })) } : route)),
  };
};
/** A browser whose push service gives what the test says: Chromium without one cannot subscribe. What it holds outlives a load of the page. */
const PUSH_SERVICE = `
  const held = () => {
    const kept = JSON.parse(localStorage.getItem('test.held') ?? 'null');
    if (!kept) return null;
    const keys = { p256dh: 'B'.repeat(87), auth: 'A'.repeat(22) };
    const key = Uint8Array.from(kept.key).buffer;
    return { endpoint: kept.endpoint, options: { applicationServerKey: key }, toJSON: () => ({ endpoint: kept.endpoint, keys }),
      unsubscribe: async () => (localStorage.removeItem('test.held'), true) };
  };
  PushManager.prototype.getSubscription = async () => held();
  PushManager.prototype.subscribe = async ({ applicationServerKey }) => {
    localStorage.setItem('test.held', JSON.stringify({ endpoint: 'https://push.example/1', key: [...applicationServerKey] }));
    return held();
  };
  Notification.requestPermission = async () => 'granted';
`;

/** The phone's part on a phone, with a rig that can push. */
async function openPhone(look: 'day' | 'night' = 'day', script = PUSH_SERVICE) {
  const box = evening();
  screens.box.play({ ...box, book: { ...box.book, pushKey: KEY }, snapshot: { ...box.snapshot, reach: reachOf('Tablet') } });
  await screens.page.context().grantPermissions(['notifications']);
  await screens.page.setViewportSize(SIZES.phone);
  await screens.page.addInitScript(script);
  // Else the same address would be no new page, and the look the old one.
  await screens.page.goto('about:blank');
  await screens.open('alarms/told', look);
  return screens.page.getByRole('region', { name: 'Alarms on this device' });
}

describe('the page without the box', () => {
  it('opens, says since when, shows no old value, and comes back by itself', async () => {
    const { page, box } = screens;
    await screens.open('balance');
    await page.getByText('all 11 signals fresh').waitFor();
    await page.evaluate('navigator.serviceWorker.ready.then(() => undefined)');
    const values = /\d+(\.\d+)? ?(%|W|V|Wh|kWh|°C)\b/;
    expect(await page.locator('main').textContent()).toMatch(values);
    await box.close();
    await page.reload();
    await page.getByRole('heading', { name: /^Heron: no contact since \d\d:\d\d \(\d+ s\)\.$/ }).waitFor();
    expect(await page.locator('body').textContent()).not.toMatch(values);
    expect(await screens.violations()).toEqual([]);
    await screens.restart(evening());
    await page.getByText('all 11 signals fresh').waitFor();
  });

  it('opens at any place, with every place in it', async () => {
    const { page, box } = screens;
    await screens.open('balance');
    await page.evaluate('navigator.serviceWorker.ready.then(() => undefined)');
    await box.close();
    await page.goto(`${box.url}tonight`);
    await page.getByText('no contact since').waitFor();
    await screens.restart(evening());
    await page.evaluate("location.hash = '#/nights'");
    await page.getByRole('heading', { name: 'Said at sunset, and what came' }).waitFor();
  });

  it('never takes what the box once said for an answer', async () => {
    const { page, box } = screens;
    await screens.open('balance');
    await page.evaluate('navigator.serviceWorker.ready.then(() => undefined)');
    expect(await page.evaluate("fetch('/api/health').then((answer) => answer.status)")).toBe(200);
    await box.close();
    expect(await page.evaluate("fetch('/api/health').then((answer) => answer.status, () => 'nothing')")).toBe('nothing');
    const kept = (await page.evaluate(
      'caches.keys().then((names) => Promise.all(names.map((name) => caches.open(name).then((cache) => cache.keys())))).then((all) => all.flat().map(({ url }) => new URL(url).pathname))',
    )) as string[];
    expect(kept).toContain('/');
    expect(kept.filter((path) => !/^\/$|^\/assets\/[\w.-]+$/.test(path))).toEqual([]);
    await screens.restart(evening());
  });
});

describe('alarms on this device', () => {
  it('is subscribed by name with the key of the rig, and knows itself on the list', async () => {
    const part = await openPhone();
    await part.getByText('This device is not told of alarms').waitFor();
    await part.getByLabel('Name of this device').fill('Tablet');
    await part.getByRole('button', { name: 'Tell this device of alarms' }).click();
    await part.getByText('Another device has that name already.').waitFor();
    await part.getByLabel('Name of this device').fill('My phone');
    await part.getByRole('button', { name: 'Tell this device of alarms' }).click();
    await part.getByText('This device is told of alarms').waitFor();
    expect(screens.box.commands).toMatchObject([{ kind: 'subscribe-push', name: 'My phone', subscription: { endpoint: 'https://push.example/1' } }]);
    screens.box.change({ serverMs: EVENING_MS, reach: reachOf('Tablet', 'My phone') });
    await part.getByText('(this device)').waitFor();
    await part.getByRole('button', { name: 'Send a test' }).click();
    await part.getByText('A test is on its way').waitFor();
    expect(screens.box.commands[1]).toMatchObject({ kind: 'try-routes', route: 'phones' });
  });

  it('says what became of the subscription at the next opening, on every place', async () => {
    const part = await openPhone();
    await part.getByLabel('Name of this device').fill('My phone');
    await part.getByRole('button', { name: 'Tell this device of alarms' }).click();
    await part.getByText('This device is told of alarms').waitFor();
    screens.box.change({ serverMs: EVENING_MS, reach: reachOf('Tablet') });
    await part.getByText('it was revoked, or the list was lost').waitFor();
    await screens.page.evaluate("localStorage.removeItem('test.held')");
    await screens.page.goto(`${screens.box.url}#/balance`);
    await screens.page.reload();
    await screens.page.getByText('Alarms no longer reach this device.').waitFor();
    await screens.page.getByRole('link', { name: 'Why, and what to do' }).click();
    await part.getByText('The browser has dropped the subscription.').waitFor();
    expect(await part.getByLabel('Name of this device').inputValue()).toBe('My phone');
    await part.getByRole('button', { name: 'Tell this device again' }).click();
    await expect.poll(() => screens.box.commands.length).toBe(2);
  });

  it('revokes at the second press, and lets go of its own subscription', async () => {
    const part = await openPhone();
    await part.getByLabel('Name of this device').fill('My phone');
    await part.getByRole('button', { name: 'Tell this device of alarms' }).click();
    await part.getByText('This device is told of alarms').waitFor();
    screens.box.change({ serverMs: EVENING_MS, reach: reachOf('Tablet', 'My phone') });
    await part.getByRole('button', { name: 'Revoke My phone', exact: true }).click();
    await part.getByText('My phone would hear of no more alarms.').waitFor();
    expect(screens.box.commands).toHaveLength(1);
    await part.getByRole('button', { name: 'Yes, revoke My phone' }).click();
    await part.getByText('This device is not told of alarms').waitFor();
    expect(screens.box.commands[1]).toMatchObject({ kind: 'revoke-push', deviceId: 'id of My phone' });
    expect(await screens.page.evaluate("localStorage.getItem('test.held')")).toBeNull();
  });

  it.each([
    ['plain http', "Object.defineProperty(window, 'isSecureContext', { value: false })", 'This page came by plain http.'],
    [
      'a page that belongs on the home screen',
      "delete window.PushManager; Object.defineProperty(navigator, 'standalone', { value: false })",
      'Open the share menu',
    ],
    ['a browser without push', 'delete window.PushManager', 'Try another browser'],
    ['a refusal', "Object.defineProperty(Notification, 'permission', { value: 'denied' })", 'the browser does not ask again'],
  ])('says what stands in the way and what to do: %s', async (what, script, words) => {
    for (const look of ['day', 'night'] as const) {
      const part = await openPhone(look, script);
      await part.getByText(words).waitFor();
      expect(await part.getByRole('textbox').count()).toBe(0);
      const help = part.locator('summary');
      if (await help.count()) await help.click();
      expect(await screens.violations()).toEqual([]);
      expect(await screens.page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth')).toBe(0);
      await part.screenshot({ path: join(pictures, `phone-${what.replaceAll(' ', '-')}-${look}.png`) });
    }
  });

  it.each(['day', 'night'] as const)('is accessible and fits a phone by %s', async (look) => {
    const part = await openPhone(look);
    await part.getByLabel('Name of this device').fill('My phone');
    await part.screenshot({ path: join(pictures, `phone-open-${look}.png`) });
    await part.getByRole('button', { name: 'Tell this device of alarms' }).click();
    await part.getByText('This device is told of alarms').waitFor();
    screens.box.change({ serverMs: EVENING_MS, reach: reachOf('Tablet', 'My phone') });
    await part.getByRole('button', { name: 'Revoke Tablet' }).click();
    expect(await screens.violations()).toEqual([]);
    await part.screenshot({ path: join(pictures, `phone-told-${look}.png`) });
  });
});
