import { isIPv4 } from 'node:net';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { AddressRefused, createAddressGuard, isPublic, ownNetworks, type Resolve } from '../../../deploy/routes/address-guard.ts';

const NOBODY = ownNetworks({});
const answering =
  (...addresses: string[]): Resolve =>
  (_, done) =>
    done(
      null,
      addresses.map((address) => ({ address, family: isIPv4(address) ? 4 : 6 })),
    );
const urlRefused = (url: string, allow: string[] = []): boolean => {
  try {
    createAddressGuard({ allow }).checkUrl(new URL(url));
    return false;
  } catch (error) {
    if (!(error instanceof AddressRefused)) throw error;
    return error.final;
  }
};
const resolved = (resolve: Resolve, allow: string[] = []): Promise<unknown> =>
  new Promise((done) => createAddressGuard({ allow, resolve }).lookup('a.example', { all: true }, (error, found) => done(error ?? found)));

describe('an address', () => {
  it.each([
    ['loopback', ['127.0.0.1', '127.9.9.9', '::1', '::ffff:127.0.0.1']],
    ['private', ['10.0.0.1', '172.16.0.1', '172.31.255.255', '192.168.0.1', '::ffff:10.0.0.1', '::ffff:a00:1', '64:ff9b::10.0.0.1', '64:ff9b::c0a8:1']],
    ['link-local, where clouds keep their secrets', ['169.254.169.254', 'fe80::1', 'fe80::1%eth0', '::ffff:169.254.169.254', 'fd00:ec2::254']],
    ['of a carrier', ['100.64.0.1', '100.127.255.255']],
    ['unique local, or of a site', ['fc00::1', 'fd12:3456::1', 'fec0::1']],
    ['multicast or broadcast', ['224.0.0.1', '239.255.255.250', '255.255.255.255', 'ff02::1']],
    [
      'of nobody, of an example, or of a tunnel',
      ['0.0.0.0', '::', '192.0.2.1', '198.51.100.7', '203.0.113.9', '198.18.0.1', '2001:db8::1', '2002:a00:1::', '2001::1', '::10.0.0.1'],
    ],
    ['no address', ['', 'localhost', '10.0.0', 'fe80']],
  ])('%s is not public', (_, addresses) => {
    expect(addresses.filter((address) => isPublic(address, NOBODY))).toEqual([]);
  });

  it('of the internet is public, also where an IPv6-only network shows it', () => {
    const known = [
      '1.1.1.1',
      '9.255.255.255',
      '11.0.0.0',
      '172.15.0.1',
      '172.32.0.1',
      '100.63.0.1',
      '100.128.0.1',
      '2606:4700::1111',
      '2a00::1',
      '::ffff:1.1.1.1',
    ];
    expect([...known, '64:ff9b::101:101', '64:ff9b::1.1.1.1'].filter((address) => !isPublic(address, NOBODY))).toEqual([]);
  });

  it('is judged alike in each of its written forms', () => {
    fc.assert(
      fc.property(fc.ipV4(), (address) => {
        const hex = address.split('.').map((part) => Number(part).toString(16).padStart(2, '0'));
        const mapped = `::ffff:${hex[0]}${hex[1]}:${hex[2]}${hex[3]}`;
        const forms = [mapped, `::ffff:${address}`, `64:ff9b::${address}`, new URL(`http://[${mapped}]`).hostname.slice(1, -1)];
        expect(forms.map((form) => isPublic(form, NOBODY))).toEqual(forms.map(() => isPublic(address, NOBODY)));
      }),
    );
  });

  it('of a network that this box is on is not public, whatever it looks like', () => {
    const given = { address: '2a02:8100:1:2::7', netmask: '', mac: '', internal: false, cidr: '2a02:8100:1:2::7/64', family: 'IPv6' as const, scopeid: 0 };
    const own = ownNetworks({ wlan0: [given] });
    expect(isPublic('2a02:8100:1:2:aaaa::1', own)).toBe(false);
    expect(isPublic('2a02:8100:1:3::1', own)).toBe(true);
  });
});

describe('the guard', () => {
  it.each([
    'http://127.0.0.1:8086',
    'http://[::ffff:10.0.0.1]/',
    'http://0x7f.1/',
    'http://2130706433/',
    'http://0177.0.0.1/',
    'https://[fe80::1]/',
    'http://192.168.0.1',
    'https://hook.example:22/',
    'http://hook.example:3306/',
  ])('refuses %s for good, unless its host is named', (url) => {
    expect(urlRefused(url)).toBe(true);
    expect(urlRefused(url, [new URL(url).hostname.replaceAll(/[[\]]/g, '')])).toBe(false);
  });

  it('takes names, and ports of the web', () => {
    for (const url of ['https://hook.example', 'http://hook.example:80/x', 'https://hook.example:8443', 'https://1.1.1.1']) expect(urlRefused(url)).toBe(false);
  });

  it('leaves out what a name must not lead to, and fails for now when nothing is left: a portal may be in between', async () => {
    expect(await resolved(answering('10.0.0.1', '1.1.1.1'))).toEqual([{ address: '1.1.1.1', family: 4 }]);
    expect(await resolved(answering('10.0.0.1', 'fe80::1'))).toMatchObject({ final: false, message: expect.stringContaining('a.example leads to 10.0.0.1') });
    expect(await resolved(answering())).toBeInstanceOf(AddressRefused);
    expect(await resolved((_, done) => done(Object.assign(new Error('no'), { code: 'ENOTFOUND' }), []))).toMatchObject({ code: 'ENOTFOUND' });
  });

  it('permits a named host wherever it leads, and a named address by whatever name', async () => {
    expect(await resolved(answering('10.0.0.1'), ['A.example'])).toHaveLength(1);
    expect(await resolved(answering('10.0.0.1', '10.0.0.2'), ['10.0.0.2'])).toEqual([{ address: '10.0.0.2', family: 4 }]);
  });

  it('judges what a connection has, not what a name was said to be', () => {
    const guard = createAddressGuard({ allow: ['10.0.0.2'] });
    expect(() => guard.checkConnected('a.example', '10.0.0.1')).toThrow(AddressRefused);
    expect(() => guard.checkConnected('a.example', undefined)).toThrow(AddressRefused);
    expect(() => guard.checkConnected('a.example', '::ffff:10.0.0.2')).not.toThrow();
    expect(() => guard.checkConnected('a.example', '1.1.1.1')).not.toThrow();
  });
});
