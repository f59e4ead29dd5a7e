import { describe, expect, it } from 'vitest';
import { devicesOf, keyBytes, keyText, nameFault, type PhoneFacts, standOf } from '../../../../dashboard/web/src/state/phone-stand.ts';
import type { RouteView } from '../../../../shared/schema/notice.ts';

const note = { name: 'My phone', endpoint: 'https://push.example/1', pushKey: 'key' };
const told: PhoneFacts = {
  isSecure: true,
  hasPush: true,
  onHomeScreen: null,
  permission: 'granted',
  pushKey: 'key',
  held: { endpoint: note.endpoint, pushKey: 'key' },
  note,
  listed: ['My phone', 'Tablet'],
};

describe('how a device stands', () => {
  it.each<[string, Partial<PhoneFacts>, string]>([
    ['plain http', { isSecure: false, hasPush: false }, 'insecure'],
    ['in a tab where only the home screen gives push', { hasPush: false, onHomeScreen: false }, 'home-screen'],
    ['no push at all', { hasPush: false }, 'unsupported'],
    ['no push even on the home screen', { hasPush: false, onHomeScreen: true }, 'unsupported'],
    ['refused', { permission: 'denied' }, 'denied'],
    ['the rig has not answered', { pushKey: undefined }, 'looking'],
    ['the browser has not answered', { held: undefined }, 'looking'],
    ['the rig sends none', { pushKey: null }, 'no-key'],
    ['never asked for', { note: null, held: null }, 'open'],
    ['all is well', {}, 'subscribed'],
    ['the list is not known', { listed: null }, 'subscribed'],
    ['the browser let go of it', { held: null }, 'dropped'],
    ['leave was taken back', { permission: 'default' }, 'dropped'],
    ['revoked', { listed: ['Tablet'] }, 'unlisted'],
    ['the keys of the rig are others', { pushKey: 'new' }, 'other-key'],
    ['the browser moved', { held: { endpoint: 'https://push.example/2', pushKey: 'key' } }, 'renewed'],
    ['the browser moved and it was revoked: it must stay revoked', { held: { endpoint: 'https://push.example/2', pushKey: 'key' }, listed: [] }, 'unlisted'],
  ])('%s', (_what, more, stand) => {
    expect(standOf({ ...told, ...more })).toBe(stand);
  });
});

const route = (name: string, kind: RouteView['kind'], targets: RouteView['targets']): RouteView => ({
  name,
  kind,
  remote: true,
  targets,
  state: 'works',
  sinceMs: 0,
  provenMs: 0,
  receivedMs: null,
  reason: '',
});

it('lists devices of push once, and tells which one this is', () => {
  const phone = { id: 'p', name: 'My phone' };
  const routes = [
    route('phones', 'push', [phone, { id: 't', name: 'Tablet' }]),
    route('mail', 'mail', [{ id: '', name: 'a@b' }]),
    route('again', 'push', [phone]),
  ];
  expect(devicesOf(routes, note).map(({ name, route: by, isThis }) => [name, by, isThis])).toEqual([
    ['My phone', 'phones', true],
    ['Tablet', 'phones', false],
  ]);
  expect(nameFault(' ', devicesOf(routes, note))).toMatch(/Give this device a name/);
  expect(nameFault('\u202e', devicesOf(routes, note))).toMatch(/Give this device a name/);
  expect(nameFault(' Tab\u200blet ', devicesOf(routes, note))).toMatch(/has that name already/);
  expect(nameFault('My phone', devicesOf(routes, note))).toBe('');
});

it('keys go to bytes and back', () => {
  const bytes = Uint8Array.from({ length: 65 }, (_, i) => (i * 37) % 256);
  const text = Buffer.from(bytes).toString('base64url');
  expect(keyBytes(text)).toEqual(bytes);
  expect(keyText(bytes.buffer)).toBe(text);
});
