import { mkdirSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { gzipSync } from 'node:zlib';
import type { Page } from 'playwright-core';
import { beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { PLACES, SIZES, screensBench } from '../../helpers/web-bench.ts';
import type { WebFixture } from '../../helpers/web-fixture.ts';
import { evening, hostile, SCENARIOS } from '../../helpers/web-scenario.ts';
import { EVENING_MS } from '../../helpers/web-scenario-parts.ts';

const root = fileURLToPath(new URL('../../..', import.meta.url));
const pictures = join(root, 'dist/screens');

const screens = screensBench();
const { open } = screens;
let box: WebFixture;
let page: Page;
let faults: string[];

beforeAll(() => {
  mkdirSync(pictures, { recursive: true });
});

beforeEach(() => {
  ({ box, page } = screens);
  faults = [];
  page.on('pageerror', (error) => faults.push(error.message));
  page.on('console', (message) => message.type() === 'error' && faults.push(message.text()));
});

describe('every place in both looks', () => {
  for (const [size, viewport] of Object.entries(SIZES)) {
    for (const look of ['day', 'night'] as const) {
      it(`is accessible, fits its page and breaks no content policy (${size}, ${look})`, async () => {
        box.play(look === 'night' ? SCENARIOS.short() : evening());
        await page.setViewportSize(viewport);
        await open('balance', look);
        for (const place of PLACES) {
          await page.evaluate(`location.hash = '#/${place}'`);
          await page.locator(`nav a[aria-current='page'][href='#/${place}']`).waitFor();
          await page.waitForLoadState('networkidle');
          expect([place, await screens.violations()]).toEqual([place, []]);
          const overflow = await page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth');
          expect([place, overflow]).toEqual([place, 0]);
          const small = await page.evaluate(
            `[...document.querySelectorAll('button, a, input')].map((e) => [e.textContent || e.type, e.getBoundingClientRect()]).filter(([, r]) => r.height > 0 && (r.height < 44 || r.width < 44)).map(([t]) => t)`,
          );
          expect([place, small]).toEqual([place, []]);
          await page.screenshot({ path: join(pictures, `${place}-${look}-${size}.png`) });
        }
        expect(faults).toEqual([]);
      });
    }
  }
});

describe('the look', () => {
  it('follows the sun until a hand holds it', async () => {
    await open('rig', 'sun');
    const look = () => page.evaluate('document.documentElement.dataset.look');
    expect(await look()).toBe('day');
    box.change({ serverMs: EVENING_MS, sun: { ...evening().snapshot.sun, isNight: true } });
    await page.waitForFunction("document.documentElement.dataset.look === 'night'");
    await page.getByRole('button', { name: 'Day', exact: true }).click();
    expect(await look()).toBe('day');
    expect(await page.evaluate("localStorage.getItem('dawnhold.look')")).toBe('day');
  });
});

describe('names and payloads from the outside', () => {
  it.each(PLACES)('stay text on %s', async (place) => {
    box.play(hostile());
    await open(place);
    await page.waitForLoadState('networkidle');
    expect(await page.evaluate("[window.attacked === undefined, document.querySelectorAll('img').length]")).toEqual([true, 0]);
    expect(await page.locator('body').textContent()).toContain('<img src=x');
    expect(faults).toEqual([]);
  });
});

describe('contact with the box', () => {
  it('is lost in words, with ages on the values, and comes back by itself after a restart, gap included', async () => {
    await open('balance');
    await page.getByText('all 11 signals fresh').waitFor();
    await box.close();
    await page.getByText('No contact with the box').waitFor();
    await page
      .locator('dl')
      .getByText(/\d s old/)
      .first()
      .waitFor();
    const later = evening(EVENING_MS + 3_600_000);
    await screens.restart(later);
    ({ box } = screens);
    await page.getByText('all 11 signals fresh').waitFor();
    await page.waitForFunction("document.querySelector('.clock').textContent === '19:06'");
    const gap = () => box.asked.find((url) => url.pathname === '/api/soc');
    await expect.poll(gap).toBeDefined();
    const fromMs = Number(gap()?.searchParams.get('fromMs'));
    expect(fromMs).toBeGreaterThan(EVENING_MS - 3_600_000);
    expect(fromMs).toBeLessThanOrEqual(EVENING_MS);
  });

  it('is renewed when the box does not answer a question after a wake-up', async () => {
    await open('balance');
    await page.getByText('all 11 signals fresh').waitFor();
    const before = box.snapshotsSent;
    box.fallSilent();
    await page.evaluate("window.dispatchEvent(new Event('online'))");
    await expect.poll(() => box.snapshotsSent, { timeout: 10_000 }).toBeGreaterThan(before);
  });

  it('reloads once for another version of the events and then says so', async () => {
    await open('balance');
    let loads = 0;
    page.on('load', () => loads++);
    const other = evening();
    box.play({ ...other, snapshot: { ...other.snapshot, v: 2 as unknown as 1 } });
    await page.getByText('speak different versions').waitFor();
    // What loads it again comes after the first paint, and looks once a second.
    await expect.poll(() => loads, { timeout: 20_000 }).toBe(1);
  });
});

describe('an alarm', () => {
  it('is acknowledged by a command with an id and an expiry', async () => {
    box.play(SCENARIOS.short());
    await open('balance', 'night');
    await page.getByRole('button', { name: 'Acknowledge' }).click();
    await page.getByText(/^acknowledged · since/i).waitFor();
    expect(box.commands).toHaveLength(1);
    expect(box.commands[0]).toMatchObject({ kind: 'acknowledge', alarmId: 'low-point', occurrence: 3 });
    expect(box.commands[0]?.id).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
    expect(box.commands[0]?.expiresMs).toBeGreaterThan(EVENING_MS);
    expect(box.commands[0]?.expiresMs).toBeLessThan(EVENING_MS + 60_000);
  });

  it('is not acknowledged later when there is no contact: it is refused in words', async () => {
    box.play(SCENARIOS.short());
    await open('alarms', 'night');
    await box.close();
    await page.getByText('No contact with the box').waitFor();
    await page.getByRole('button', { name: 'Acknowledge' }).click();
    await page.getByText('Not sent').waitFor();
    await screens.restart(SCENARIOS.short());
    ({ box } = screens);
    await page.getByText('all 11 signals fresh').waitFor();
    expect(box.commands).toEqual([]);
  });

  it('says that the browser keeps it silent, until a touch allows sound', async () => {
    await open('alarms');
    await page.getByText('Silent here').waitFor();
    await page.getByRole('button', { name: 'Allow sound' }).click();
    await page.getByText('This browser may sound alarms on this device.').waitFor();
  });
});

it('sounds after a tap anywhere, and after the next one when the device has interrupted the sound', async () => {
  await screens.changeDevice({ viewport: SIZES.phone, hasTouch: true, isMobile: true });
  ({ page } = screens);
  await page.addInitScript('window.AudioContext = class extends AudioContext { constructor() { super(); window.made = this; } }');
  await open('alarms');
  const [silent, allowed] = [page.getByText('Silent here'), page.getByText('This browser may sound alarms on this device.')];
  await silent.waitFor();
  await page.locator('main h1').first().tap();
  await allowed.waitFor();
  await page.evaluate('window.made.suspend()');
  await silent.waitFor();
  await page.locator('main h1').first().tap();
  await allowed.waitFor();
});

describe('a device that is not paired', () => {
  it('is asked for a code and let in with the right one', async () => {
    box.requirePairing('QUIET-HERON');
    await open('balance');
    await page.getByLabel('Code').fill('WRONG-ONE');
    await page.getByLabel('Name of this device').fill('Wall');
    await page.getByRole('button', { name: 'Pair' }).click();
    await page.getByText('The code is wrong or too old.').waitFor();
    await page.getByLabel('Code').fill('QUIET-HERON');
    await page.getByRole('button', { name: 'Pair' }).click();
    await page.getByText('the bank holds.').first().waitFor();
  });
});

describe('the clock of the box', () => {
  it('is doubted in words on the sensors and in the top line', async () => {
    const { health } = evening().snapshot;
    await open('sensors');
    await page.getByText('all 11 signals fresh').waitFor();
    expect(await page.getByText(/time in doubt/i).count()).toBe(0);
    box.change({ serverMs: EVENING_MS, health: { ...health, clockDoubt: 'the clock of the box was set within the last hour' } });
    await page.locator('main').getByText('Time in doubt: the clock of the box was set within the last hour.').waitFor();
    await page.locator('header').getByText('time in doubt').waitFor();
    box.change({ serverMs: EVENING_MS, health: { ...health, clockDoubt: null } });
    await expect.poll(() => page.getByText(/time in doubt/i).count()).toBe(0);
  });

  it('may be set back: the past is not asked for until a time before it began', async () => {
    await open('balance');
    await expect.poll(() => box.asked.length).toBe(1);
    await page.waitForLoadState('networkidle');
    box.play(evening(EVENING_MS - 3 * 3_600_000));
    await page.waitForFunction("document.querySelector('.clock').textContent === '15:06'");
    box.play(evening(EVENING_MS + 3_600_000));
    await expect.poll(() => box.asked.length).toBe(2);
    for (const { searchParams } of box.asked) expect(Number(searchParams.get('toMs'))).toBeGreaterThan(Number(searchParams.get('fromMs')));
  });
});

describe('live values', () => {
  it('leave the screen when the box no longer knows them', async () => {
    await open('balance');
    await page.getByText('the bank holds.').first().waitFor();
    box.change({ serverMs: EVENING_MS, projection: null });
    await expect.poll(() => page.getByText('the bank holds.').count()).toBe(0);
    const panels = page.locator('main').getByText(/118/);
    await panels.first().waitFor();
    box.change({ serverMs: EVENING_MS, flows: null, bank: null });
    await expect.poll(() => panels.count()).toBe(0);
    await page.getByText('no state of charge yet').first().waitFor();
    expect(faults).toEqual([]);
  });

  it.each(['balance', 'sensors'])('change without moving anything on %s', async (place) => {
    await open(place);
    await page.waitForLoadState('networkidle');
    await page.getByText('all 11 signals fresh').waitFor();
    await page.evaluate('document.fonts.ready.then(() => new Promise((settled) => requestIdleCallback(() => settled(null))))');
    await page.evaluate(`window.shifts = []; new PerformanceObserver((list) => {
      for (const entry of list.getEntries()) for (const { node } of entry.sources) window.shifts.push((node?.nodeType === 1 ? node : node?.parentElement)?.outerHTML.slice(0, 200) ?? 'gone');
    }).observe({ type: 'layout-shift' })`);
    const base = evening().snapshot;
    for (let i = 0; i < 24; i++) {
      const serverMs = EVENING_MS + i * 250;
      const states = base.states.map((s) => ({
        ...s,
        tMs: serverMs,
        value: (s.value ?? 0) * (1 + 0.3 * Math.sin(i + s.index)),
        received: s.received + i * 97,
      }));
      const flows = base.flows && { ...base.flows, tMs: serverMs, bankW: 900 * Math.sin(i / 3), panelsW: i * 40, minisplitW: 214 + i * 31 };
      box.change({ serverMs, states, ...(flows ? { flows } : {}), ...(base.bank ? { bank: { ...base.bank, currentA: 40 * Math.sin(i / 3) } } : {}) });
      await page.waitForTimeout(60);
    }
    await page.waitForTimeout(400);
    expect(await page.evaluate('window.shifts')).toEqual([]);
    expect(faults).toEqual([]);
  });
});

it.each(['tight', 'short'] as const)('the mark of the setpoint in force moves no word of the ladder (%s)', async (scenario) => {
  box.play(SCENARIOS[scenario]());
  const { signals, states } = SCENARIOS[scenario]().snapshot;
  const index = signals.find(({ name }) => name === 'minisplit.setpoint')?.index;
  const state = states.find((one) => one.index === index);
  if (!state) throw new Error('the scenario has no setpoint');
  for (const size of Object.values(SIZES)) {
    await page.setViewportSize(size);
    await open('balance');
    const places: unknown[] = [];
    // Both have 24 degrees as their nearest rung; only the first is one.
    for (const [value, marks] of [
      [24, 1],
      [24.4, 0],
    ] as const) {
      box.change({ serverMs: EVENING_MS, states: [{ ...state, tMs: EVENING_MS, value }] });
      await expect.poll(() => page.getByText('set now', { exact: true }).count()).toBe(marks);
      places.push(await page.locator('li .word').evaluateAll((all) => all.map((word) => [word.textContent, word.getBoundingClientRect().left])));
    }
    expect(JSON.stringify(places[0])).toMatch(/tight|short/);
    expect(places[1]).toEqual(places[0]);
  }
});

it('asks for the past and for the nights once a connection, however often values change', async () => {
  await open('balance');
  await page.waitForLoadState('networkidle');
  await page.evaluate("location.hash = '#/nights'");
  await page.getByRole('heading', { name: /inside the range/ }).waitFor();
  for (let i = 1; i <= 10; i++) {
    box.change({ serverMs: EVENING_MS + i * 300 });
    await page.waitForTimeout(150);
  }
  expect(box.asked.map((url) => url.pathname).sort()).toEqual(['/api/night-curves', '/api/nights', '/api/places', '/api/soc']);
});

it('loads at most 90 kB of script and style with the first place, and at most 31 kB more with each other, packed', () => {
  const html = readFileSync(join(screens.webRoot, 'index.html'), 'utf8');
  const assets = join(screens.webRoot, 'assets');
  const packed = (names: readonly string[]) => names.reduce((sum, name) => sum + gzipSync(readFileSync(join(assets, name))).length, 0);
  const files = readdirSync(assets).filter((name) => /\.(js|css)$/.test(name));
  const first = files.filter((name) => html.includes(name));
  expect(first.length).toBeGreaterThanOrEqual(2);
  expect(packed(first)).toBeLessThanOrEqual(90_000);
  for (const place of PLACES.slice(1)) {
    const own = files.filter((name) => name.toLowerCase().startsWith(`${place}-`));
    expect([place, own.length]).toEqual([place, 2]);
    expect(packed(own)).toBeLessThanOrEqual(31_000);
  }
});
