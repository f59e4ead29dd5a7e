import { expect, it } from 'vitest';
import { contactOf, sinceText } from '../../../../dashboard/web/src/format/contact.ts';

const AT_MS = Date.UTC(2026, 10, 27, 4, 10);
/** The device's clock is seven hours ahead of the rig's. */
const HEARD_MS = AT_MS + 7 * 3_600_000;
const contact = { atMs: AT_MS, heardMs: HEARD_MS, rigName: 'Heron', timeZone: 'Europe/Lisbon' };

it('says since when by the clock of the rig, and how long that is', () => {
  expect(sinceText(contact, HEARD_MS + 130 * 60_000)).toBe('Heron: no contact since 04:10 (2 h 10 min).');
  expect(sinceText(contact, HEARD_MS + 3 * 86_400_000)).toBe('Heron: no contact since 04:10 27 Nov (3 d).');
});

it('reads only what it wrote', () => {
  expect(contactOf(JSON.stringify(contact))).toEqual(contact);
  for (const text of [null, '{}', '1', '{"atMs":"x","heardMs":1,"rigName":"a","timeZone":"UTC"}', '{"atMs":1,"rigName":"a","timeZone":"UTC"}'])
    expect(contactOf(text)).toBeNull();
});
