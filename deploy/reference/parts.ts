import { bank } from './bank.ts';
import type { Part } from './figure.ts';
import { house } from './house.ts';
import { panels } from './panels.ts';
import { sun } from './sun.ts';

/** Every part that is measured on open data; a new one is a file beside these and a line here. */
export const PARTS: readonly Part[] = [sun, panels, bank, house];
