import type { RouteView } from '../../../../shared/schema/notice.ts';

/** What this device remembers of its subscription. */
export interface DeviceNote {
  readonly name: string;
  readonly endpoint: string;
  /** The rig's public key that it was made with, base64url. */
  readonly pushKey: string;
}

/** What decides how this device stands towards alarms by push. */
export interface PhoneFacts {
  /** The page comes by https, or from the box itself. */
  readonly isSecure: boolean;
  readonly hasPush: boolean;
  /** Only on a phone or tablet whose browsers give push to pages on the home screen alone: whether this is one; null elsewhere. */
  readonly onHomeScreen: boolean | null;
  readonly permission: 'default' | 'granted' | 'denied';
  /** The rig's public key; null where it sends no push, undefined until it is known. */
  readonly pushKey: string | null | undefined;
  /** What the browser holds now; undefined until it has been looked at. */
  readonly held: { readonly endpoint: string; readonly pushKey: string | null } | null | undefined;
  /** What this device remembers of its subscription. */
  readonly note: DeviceNote | null;
  /** Names of the devices that the rig would tell; null until they are known. */
  readonly listed: readonly string[] | null;
}

/**
 * `dropped`: the browser has let go of the subscription. `unlisted`: the rig does not know it (any more). `other-key`: it was made with a key that the rig has no more.
 * `renewed`: the browser holds another address than the rig was told.
 */
export type PhoneStand =
  | 'insecure'
  | 'home-screen'
  | 'unsupported'
  | 'looking'
  | 'no-key'
  | 'denied'
  | 'open'
  | 'subscribed'
  | 'dropped'
  | 'unlisted'
  | 'other-key'
  | 'renewed';

/** Stands in which alarms do not reach a device that once asked for them. */
export const LOST: ReadonlySet<PhoneStand> = new Set(['dropped', 'unlisted', 'other-key', 'renewed', 'denied']);

export function standOf({ isSecure, hasPush, onHomeScreen, permission, pushKey, held, note, listed }: PhoneFacts): PhoneStand {
  if (!isSecure) return 'insecure';
  if (!hasPush) return onHomeScreen === false ? 'home-screen' : 'unsupported';
  if (permission === 'denied') return 'denied';
  if (pushKey === undefined || held === undefined) return 'looking';
  if (pushKey === null) return 'no-key';
  if (note === null) return 'open';
  if (held === null || permission !== 'granted') return 'dropped';
  if (held.pushKey !== null && held.pushKey !== pushKey) return 'other-key';
  if (listed !== null && !listed.includes(note.name)) return 'unlisted';
  return held.endpoint === note.endpoint ? 'subscribed' : 'renewed';
}

/** A device that the rig tells by push. */
export interface Device {
  readonly route: string;
  readonly id: string;
  readonly name: string;
  readonly isThis: boolean;
}

/** The devices of all routes by push. */
export function devicesOf(routes: readonly RouteView[], note: DeviceNote | null): readonly Device[] {
  return routes
    .filter(({ kind }) => kind === 'push')
    .flatMap(({ name: route, targets }) => targets.map(({ id, name }) => ({ route, id, name, isThis: name === note?.name })))
    .filter((device, index, all) => all.findIndex(({ id }) => id === device.id) === index);
}

/** A name as the rig keeps it: without control and direction characters. */
export const cleanName = (name: string): string => name.replaceAll(/\p{C}/gu, '').trim();

/** Why a name will not do for this device; '' when it will. Devices are told apart by it, here and in the log. */
export function nameFault(name: string, devices: readonly Device[]): string {
  if (cleanName(name) === '') return 'Give this device a name, such as whose it is.';
  const isTaken = devices.some((device) => !device.isThis && device.name === cleanName(name));
  return isTaken ? 'Another device has that name already. Choose another, or revoke that one first.' : '';
}

/** A key in base64url as the bytes that a browser subscribes with (RFC 8292). */
export function keyBytes(key: string): Uint8Array<ArrayBuffer> {
  const text = atob(key.replaceAll('-', '+').replaceAll('_', '/'));
  return Uint8Array.from(text, (letter) => letter.charCodeAt(0));
}

/** The other way round. */
export function keyText(bytes: ArrayBuffer): string {
  return btoa(String.fromCharCode(...new Uint8Array(bytes)))
    .replaceAll('+', '-')
    .replaceAll('/', '_')
    .replaceAll('=', '');
}
