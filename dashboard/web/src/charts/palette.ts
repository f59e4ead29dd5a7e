import type { SkyTone } from './sky.ts';

/** Colours of the present look for the canvas, which knows no custom properties. */
export interface Palette {
  readonly ink: string;
  readonly soft: string;
  readonly line: string;
  readonly upright: string;
  readonly sheet: string;
  readonly bank: string;
  readonly floor: string;
  readonly rangeWide: string;
  readonly rangeNarrow: string;
  readonly surplus: string;
  /** Strong and filled colours of the groups that draw, and of the sun. */
  readonly groups: Readonly<Record<'sun' | 'minisplit' | 'standing' | 'inverter', { readonly line: string; readonly fill: string }>>;
  readonly sky: Readonly<Record<SkyTone, string>>;
  readonly font: string;
  /** Pixels of one rem. */
  readonly remPx: number;
}

/** Reads the design tokens as they stand. */
export function readPalette(): Palette {
  const style = getComputedStyle(document.documentElement);
  const token = (name: string) => style.getPropertyValue(`--${name}`).trim();
  const group = (name: string) => ({ line: token(name), fill: token(`${name}-fill`) });
  return {
    ink: token('ink'),
    soft: token('soft'),
    line: token('line'),
    upright: token('rest'),
    sheet: token('sheet'),
    bank: token('bank'),
    floor: token('floor'),
    rangeWide: token('range-wide'),
    rangeNarrow: token('range-narrow'),
    surplus: token('sun-fill'),
    groups: { sun: group('sun'), minisplit: group('minisplit'), standing: group('standing'), inverter: group('inverter') },
    sky: { day: token('sky-day'), dusk: token('sky-dusk'), night: token('sky-night') },
    font: token('font'),
    remPx: Number.parseFloat(style.fontSize),
  };
}
