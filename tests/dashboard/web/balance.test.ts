import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';
import { beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { PLACES, SIZES, screensBench } from '../../helpers/web-bench.ts';
import { FLOW_STATES, withFlows } from '../../helpers/web-flows.ts';
import { NIGHT_STATES } from '../../helpers/web-nights.ts';
import { SCENARIOS } from '../../helpers/web-scenario.ts';

const pictures = fileURLToPath(new URL('../../../dist/screens/balance/', import.meta.url));
const ALL_SIZES = { ...SIZES, small: { width: 1024, height: 768 }, upright: { width: 768, height: 1024 }, wall: { width: 3840, height: 2160 } } as const;

const screens = screensBench();
const { open } = screens;
let page: Page;
beforeAll(() => {
  mkdirSync(pictures, { recursive: true });
});
beforeEach(() => {
  ({ page } = screens);
});

interface Rect {
  readonly name: string;
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
}
const rectsOf = (selector: string): Promise<Rect[]> =>
  page.evaluate(
    `[...document.querySelectorAll('${selector}')].map((e) => { const r = e.getBoundingClientRect(); return { name: e.textContent.trim() || e.getAttribute('class'), left: r.left, top: r.top, right: r.right, bottom: r.bottom }; })`,
  );
/** Until nothing glides any more. */
const settled = () => page.evaluate('Promise.all(document.getAnimations().map((glide) => glide.finished.catch(() => null)))');
const sharedPx = (a: Rect, b: Rect) => Math.min(Math.min(a.right, b.right) - Math.max(a.left, b.left), Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top));

describe('the balance of flows', () => {
  it('is drawn where it belongs from its first frame: nothing glides in', async () => {
    await page.addInitScript(`
      window.glides = 0;
      document.addEventListener('transitionrun', (event) => (window.glides += event.target.closest('.room svg') ? 1 : 0), true);
    `);
    await open('balance');
    await page.locator('.room svg .bar').first().waitFor();
    await page.evaluate('new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))');
    await settled();
    expect(await page.evaluate('window.glides')).toBe(0);
  });

  for (const [size, viewport] of Object.entries(SIZES)) {
    it(`meets the bus in equal heights, its words apart and in the picture, in every state (${size})`, async () => {
      await page.setViewportSize(viewport);
      await open('balance', size === 'phone' ? 'night' : 'day');
      const section = page.locator('section[aria-labelledby=flows-title]');
      for (const [name, flows] of Object.entries(FLOW_STATES)) {
        screens.box.play(withFlows(flows));
        await page.waitForTimeout(250);
        await settled();
        await section.screenshot({ path: join(pictures, `${name.replaceAll(/\W+/g, '-')}-${size}.png`) });
        if (flows) await expectBalanced(name);
        else await page.getByText('No powers known yet.').waitFor();
      }
    });
  }

  async function expectBalanced(name: string): Promise<void> {
    const [room] = await rectsOf('.room');
    const words = await rectsOf('.room text');
    expect([name, words.length > 4]).toEqual([name, true]);
    for (const [i, word] of words.entries()) {
      expect([name, word.name, word.left >= (room?.left ?? 0) - 1, word.right <= (room?.right ?? 0) + 1]).toEqual([name, word.name, true, true]);
      for (const other of words.slice(0, i)) expect([name, word.name, other.name, sharedPx(word, other) < 2]).toEqual([name, word.name, other.name, true]);
    }
    const bars = await rectsOf('g:not(.unused) > .flow > .bar');
    const middle = ((room?.left ?? 0) + (room?.right ?? 0)) / 2;
    const height = (isLeft: boolean) => bars.filter((bar) => bar.left < middle === isLeft).reduce((sum, bar) => sum + bar.bottom - bar.top, 0);
    // A flow that is too thin to be seen is drawn 1.5 px thick.
    expect([name, Math.abs(height(true) - height(false)) <= 1.5 * bars.length]).toEqual([name, true]);
  }

  it('shows all flows in figures at a touch, those too that the picture shows as one, and moves nothing else', async () => {
    screens.box.play(withFlows(FLOW_STATES['many loads, the rest unknown'] ?? null));
    await open('balance');
    await page.getByText(/^\d others/).waitFor();
    const before = await rectsOf('section');
    await page.getByRole('button', { name: 'Figures' }).click();
    const rows = page.locator('dialog[open] tbody tr');
    expect(await rows.count()).toBe(13);
    expect(await rows.filter({ hasText: 'Router' }).textContent()).toMatch(/goes out\s*9 W/);
    expect(await rows.filter({ hasText: 'Other loads' }).textContent()).toMatch(/missing, not known now/);
    expect((await rectsOf('section')).map(({ top, bottom }) => [top, bottom])).toEqual(before.map(({ top, bottom }) => [top, bottom]));
    expect(await screens.violations()).toEqual([]);
    await page.keyboard.press('Escape');
    expect(await page.evaluate('document.activeElement.textContent')).toBe('Figures');
  });

  it('glides to new heights, and jumps where motion is unwanted', async () => {
    const seconds = "getComputedStyle(document.querySelector('.bus')).transitionDuration";
    await open('balance');
    await page.locator('.bus').waitFor();
    expect(await page.evaluate(seconds)).toMatch(/0\.4s/);
    await page.emulateMedia({ reducedMotion: 'reduce' });
    expect(await page.evaluate(seconds)).toBe('0s');
  });
});

describe('the verdict', () => {
  const FEW = ['tight, doubted', 'tomorrow', 'learning, under the floor', 'cannot tell, in many words', 'nothing yet', 'no takeover'];

  for (const [size, viewport] of Object.entries(ALL_SIZES)) {
    it(`is the largest text, whole, and pushes nothing about, whatever it says (${size})`, async () => {
      await page.setViewportSize(viewport);
      await open('balance');
      const tops: number[] = [];
      for (const name of size === 'tablet' ? Object.keys(NIGHT_STATES) : FEW) {
        screens.box.play((NIGHT_STATES[name] as () => ReturnType<typeof withFlows>)());
        await page.waitForTimeout(200);
        const seen = (await page.evaluate(`(() => {
          const px = (e) => parseFloat(getComputedStyle(e).fontSize);
          const h1 = document.querySelector('main h1');
          const others = [...document.querySelectorAll('main *, header *')].filter((e) => e !== h1 && !h1.contains(e) && e.textContent.trim() !== '');
          return { size: px(h1), most: Math.max(...others.map(px)), isCut: h1.scrollWidth > h1.clientWidth || h1.scrollHeight > h1.clientHeight + 1, sideways: document.documentElement.scrollWidth - document.documentElement.clientWidth, top: document.querySelector('.chart').getBoundingClientRect().top + scrollY };
        })()`)) as { size: number; most: number; isCut: boolean; sideways: number; top: number };
        expect([name, seen.size > seen.most || name === 'cannot tell, in many words', seen.isCut, seen.sideways]).toEqual([name, true, false, 0]);
        if (size !== 'phone' && !/doubted|low floor|many words|high floor/.test(name)) tops.push(Math.round(seen.top));
        await page.screenshot({ path: join(pictures, `night-${name.replaceAll(/\W+/g, '-')}-${size}.png`) });
      }
      expect(new Set(tops).size).toBeLessThanOrEqual(1);
    });
  }

  it('is spoken when it turns, not at every new percent', async () => {
    await open('balance');
    const spoken = page.locator('.verdict [aria-live]');
    await expect.poll(() => spoken.textContent()).toContain('the bank holds.');
    const first = await spoken.textContent();
    screens.box.play(SCENARIOS.charging());
    await page.getByText('63 %').first().waitFor();
    expect(await spoken.textContent()).toBe(first);
    screens.box.play(SCENARIOS.tight());
    await expect.poll(() => spoken.textContent()).toContain('tight');
  });
});

it('says how often it holds beside what the owner wants, and marks the setpoints by that', async () => {
  screens.box.play((NIGHT_STATES['tight, doubted'] as () => ReturnType<typeof withFlows>)());
  await open('balance');
  await page.getByText('It holds 82 nights in 100; you want 95 nights in 100.').waitFor();
  const rungs = page.locator('section[aria-labelledby=ladder-title] li');
  await rungs.first().waitFor();
  expect(await rungs.filter({ hasText: 'holds 97 nights in 100' }).locator('.word').textContent()).toBe('');
  expect(await rungs.filter({ hasText: 'set now' }).textContent()).toContain('tight');
});

describe('without a mini-split', () => {
  it('says what else can be drawn', async () => {
    screens.box.play((NIGHT_STATES['no mini-split, US units'] as () => ReturnType<typeof withFlows>)());
    await open('balance');
    await page.getByRole('heading', { name: 'What else tonight' }).waitFor();
    await page.getByText(/can be drawn before 08:35/).waitFor();
    await page.getByText('75.9°F').waitFor();
  });
});

describe('the keyboard', () => {
  it('skips to the content, goes from place to place by arrows and opens one', async () => {
    await open('balance');
    await page.keyboard.press('Tab');
    expect(await page.evaluate('document.activeElement.textContent')).toBe('Skip to the content');
    await page.keyboard.press('Enter');
    expect(await page.evaluate('document.activeElement.tagName')).toBe('MAIN');
    await page.locator("nav a[href='#/balance']").focus();
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowRight');
    expect(await page.evaluate('document.activeElement.textContent')).toBe('Nights');
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('Enter');
    await page.locator("nav a[aria-current='page'][href='#/tonight']").waitFor();
  });

  it('finds headings in order', async () => {
    await open('balance');
    await page.getByRole('heading', { name: 'Setpoint tonight' }).waitFor();
    const levels = (await page.evaluate(
      "[...document.querySelectorAll('main :is(h1, h2, h3)')].filter((e) => !e.closest('dialog')).map((e) => Number(e.tagName[1]))",
    )) as number[];
    expect(levels[0]).toBe(1);
    for (const [i, level] of levels.entries()) expect(level).toBeLessThanOrEqual((levels[i - 1] ?? 0) + 1);
  });
});

/** Mean relative luminance of a screenshot, and the most that any square of 32 px has. */
async function luminance(place: string): Promise<{ mean: number; most: number }> {
  await page.evaluate(`location.hash = '#/${place}'`);
  await page.locator(`nav a[aria-current='page'][href='#/${place}']`).waitFor();
  await page.waitForLoadState('networkidle');
  const png = (await page.screenshot({ path: join(pictures, `dim-${place}.png`) })).toString('base64');
  return (await page.evaluate(`(async () => {
    const image = new Image();
    image.src = 'data:image/png;base64,${png}';
    await image.decode();
    const [w, h] = [image.width, image.height];
    const canvas = new OffscreenCanvas(w, h).getContext('2d');
    canvas.drawImage(image, 0, 0);
    const { data } = canvas.getImageData(0, 0, w, h);
    const linear = Array.from({ length: 256 }, (_, v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4));
    const squares = new Map();
    let sum = 0;
    for (let i = 0; i < w * h; i++) {
      const l = 0.2126 * linear[data[4 * i]] + 0.7152 * linear[data[4 * i + 1]] + 0.0722 * linear[data[4 * i + 2]];
      const square = 1000 * Math.floor(Math.floor(i / w) / 32) + Math.floor((i % w) / 32);
      sum += l;
      squares.set(square, (squares.get(square) ?? 0) + l / 1024);
    }
    return { mean: sum / (w * h), most: Math.max(...squares.values()) };
  })()`)) as { mean: number; most: number };
}

it('keeps the night look so dim that a blacked-out cabin stays dark, on every place', async () => {
  screens.box.play(SCENARIOS.short());
  await open('balance', 'night');
  for (const place of PLACES) {
    const { mean, most } = await luminance(place);
    console.info(`night look, ${place}: mean luminance ${mean.toFixed(4)}, brightest square ${most.toFixed(3)}`);
    expect([place, mean < 0.02]).toEqual([place, true]);
    expect([place, most < 0.2]).toEqual([place, true]);
  }
});

it('is dark before the look is known, so that no reload flashes at night', async () => {
  await page.route('**/*.js', (route) => route.abort());
  await page.goto(screens.box.url);
  expect(await page.evaluate('getComputedStyle(document.documentElement).backgroundColor')).toBe('rgb(11, 5, 4)');
});
