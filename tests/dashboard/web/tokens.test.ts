import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';

const web = new URL('../../../dashboard/web/src/', import.meta.url);
const sources = readdirSync(web, { recursive: true, encoding: 'utf8' })
  .filter((name) => /\.(svelte|css)$/.test(name) && name !== 'tokens.css')
  .map((name) => readFileSync(new URL(name, web), 'utf8'));
const css = readFileSync(new URL('tokens.css', web), 'utf8');

function tokens(look: string): Map<string, string> {
  const block = new RegExp(`\\[data-look="${look}"\\] \\{([^}]*)\\}`).exec(css)?.[1] ?? '';
  return new Map([...block.matchAll(/--([a-z-]+): (#[0-9a-f]{6});/g)].map((m) => [m[1] ?? '', m[2] ?? '']));
}

const linear = (hex: string): number[] =>
  [1, 3, 5].map((i) => Number.parseInt(hex.slice(i, i + 2), 16) / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));

/** Protanopia by Vienot, Brettel, Mollon, 1999, "Digital video colourmaps for checking the legibility of displays by dichromats", in linear sRGB. */
const withoutRed = ([r = 0, g = 0, b = 0]: number[]): number[] => {
  const mixed = 0.11238 * r + 0.88762 * g;
  return [mixed, mixed, 0.00401 * r - 0.00401 * g + b];
};

const luminance = ([r = 0, g = 0, b = 0]: number[]): number => 0.2126 * r + 0.7152 * g + 0.0722 * b;

function contrast(one: string, other: string, see: (rgb: number[]) => number[]): number {
  const [light = 0, dark = 0] = [one, other].map((hex) => luminance(see(linear(hex)))).sort((a, b) => b - a);
  return (light + 0.05) / (dark + 0.05);
}

/** Text colours with what they stand on; on ribbons only ink does. */
const PAIRS = [
  ...['ink', 'soft', 'bank', 'floor', 'warn-ink'].flatMap((text) => ['sheet', 'ground'].map((under) => [text, under] as const)),
  ...['sun', 'bank', 'charger', 'minisplit', 'standing', 'inverter'].map((tone) => ['ink', `${tone}-fill`] as const),
  ['on-alarm', 'alarm'] as const,
];

/** Parts of pictures that carry meaning, and edges of what can be touched, with what they stand on. */
const PARTS = [
  ...['sun', 'bank', 'charger', 'minisplit', 'standing', 'inverter', 'floor', 'ink'].map((part) => [part, 'sheet'] as const),
  ...['rest', 'warn', 'alarm'].flatMap((part) => ['sheet', 'ground'].map((under) => [part, under] as const)),
  ...['floor', 'ink'].flatMap((part) => ['range-wide', 'range-narrow'].map((under) => [part, under] as const)),
];

describe.each(['day', 'night'])('the %s look', (look) => {
  const of = tokens(look);

  it.each(PAIRS)('keeps %s readable on %s, also for people who see no red', (text, under) => {
    const [one, other] = [of.get(text) ?? '', of.get(under) ?? ''];
    expect(contrast(one, other, (rgb) => rgb)).toBeGreaterThanOrEqual(4.5);
    expect(contrast(one, other, withoutRed)).toBeGreaterThanOrEqual(4.5);
  });

  it.each(PARTS)('lets %s be seen on %s, also by people who see no red', (part, under) => {
    const [one, other] = [of.get(part) ?? '', of.get(under) ?? ''];
    expect(contrast(one, other, (rgb) => rgb)).toBeGreaterThanOrEqual(3);
    expect(contrast(one, other, withoutRed)).toBeGreaterThanOrEqual(3);
  });

  it('tells the curve from its range and the sheet by lightness alone', () => {
    for (const under of ['sheet', 'range-wide', 'range-narrow'])
      expect(contrast(of.get('bank') ?? '', of.get(under) ?? '', withoutRed)).toBeGreaterThanOrEqual(3);
  });
});

it('tells what draws apart by lightness where hues are few, and standing loads from the inverter in both looks', () => {
  const [day, night] = [tokens('day'), tokens('night')];
  const apart = (of: Map<string, string>, one: string, other: string) => contrast(of.get(one) ?? '', of.get(other) ?? '', withoutRed);
  for (const [one, other] of [
    ['minisplit', 'inverter'],
    ['inverter', 'standing'],
    ['minisplit-fill', 'standing-fill'],
  ] as const)
    expect([one, other, apart(night, one, other) >= 1.15]).toEqual([one, other, true]);
  expect(apart(night, 'minisplit', 'standing')).toBeGreaterThanOrEqual(1.5);
  expect(apart(day, 'standing-fill', 'inverter-fill')).toBeGreaterThanOrEqual(1.4);
});

it('has the same tokens in both looks', () => {
  expect([...tokens('night').keys()]).toEqual([...tokens('day').keys()]);
  expect(tokens('day').size).toBeGreaterThan(25);
});

it('uses no colour in a picture or a page that is not a token', () => {
  const used = sources.flatMap((text) => [...text.matchAll(/(?<![&\w-])#[0-9a-f]{3,8}\b(?=[;"' )])/gi)].map((m) => m[0]));
  expect(used).toEqual([]);
});

it('pairs every text colour that a page sets with what it may stand on', () => {
  const set = new Set(sources.flatMap((text) => [...text.matchAll(/(?<![\w-])(?:color|fill): var\(--([a-z-]+)\)/g)].map((m) => m[1] ?? '')));
  const known = new Set([...PAIRS, ...PARTS].flat().concat(['line', 'sheet', 'sun-fill', 'bar', 'fill', 'range-wide', 'range-narrow']));
  expect([...set].filter((name) => !known.has(name))).toEqual([]);
});

it('keeps the night look dim: no colour but an alarm shines', () => {
  for (const [name, hex] of tokens('night')) if (!/alarm|warn/.test(name)) expect([name, luminance(linear(hex)) < 0.4]).toEqual([name, true]);
});
