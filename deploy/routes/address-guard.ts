import { type LookupAddress, lookup } from 'node:dns';
import { BlockList, isIP, type LookupFunction } from 'node:net';
import { type NetworkInterfaceInfo, networkInterfaces } from 'node:os';

/** Ports that an address of a public host may name; a host that is allowed by name may be called at any. */
const PORTS: ReadonlySet<string> = new Set(['', '80', '443', '8443']);

/** Not public among IPv4 addresses. @source IANA IPv4 Special-Purpose Address Registry (RFC 6890); multicast: RFC 5771. */
const SPECIAL_V4 = [
  ['0.0.0.0', 8],
  ['10.0.0.0', 8],
  ['100.64.0.0', 10],
  ['127.0.0.0', 8],
  ['169.254.0.0', 16],
  ['172.16.0.0', 12],
  ['192.0.0.0', 24],
  ['192.0.2.0', 24],
  ['192.88.99.0', 24],
  ['192.168.0.0', 16],
  ['198.18.0.0', 15],
  ['198.51.100.0', 24],
  ['203.0.113.0', 24],
  ['224.0.0.0', 3],
] as const;
/** Of IPv6 only 2000::/3 is public, and of that not these. @source IANA IPv6 Special-Purpose Address Registry (RFC 6890). */
const SPECIAL_V6 = [
  ['2001::', 23],
  ['2001:db8::', 32],
  ['2002::', 16],
  ['3fff::', 20],
] as const;
/** Under this prefix an IPv6-only network shows IPv4 addresses, in their last 32 bits. @source RFC 6052, section 2.1. */
const NAT64 = '64:ff9b::';

const special = new BlockList();
for (const [net, prefix] of SPECIAL_V4) special.addSubnet(net, prefix, 'ipv4');
for (const [net, prefix] of SPECIAL_V6) special.addSubnet(net, prefix, 'ipv6');
const global = new BlockList();
global.addSubnet('2000::', 3, 'ipv6');
const embedding = new BlockList();
embedding.addSubnet(NAT64, 96, 'ipv6');
embedding.addSubnet('::ffff:0:0', 96, 'ipv6');

/** The IPv4 address in the last 32 bits of an IPv6 one, which the URL parser writes in its short form. */
function embedded(address: string): string {
  const tail = new URL(`http://[${address}]`).hostname.slice(1, -1).split('::').pop() ?? '';
  const [high = 0, low = 0] = [0, 0, ...tail.split(':').map((group) => Number.parseInt(group || '0', 16))].slice(-2);
  return [high >> 8, high & 255, low >> 8, low & 255].join('.');
}

/** True for an address that anybody on the internet could be behind; the networks that this box is on are not. */
export function isPublic(given: string, own: BlockList = ownNetworks()): boolean {
  const address = given.replace(/%.*$/, '');
  const family = isIP(address);
  if (family === 0) return false;
  if (family === 4) return !special.check(address, 'ipv4') && !own.check(address, 'ipv4');
  if (embedding.check(address, 'ipv6')) return isPublic(embedded(address), own);
  return global.check(address, 'ipv6') && !special.check(address, 'ipv6') && !own.check(address, 'ipv6');
}

/** The networks that this box is on: with IPv6 a neighbour's address, and the box's own, look public. */
export function ownNetworks(interfaces: NodeJS.Dict<NetworkInterfaceInfo[]> = networkInterfaces()): BlockList {
  const list = new BlockList();
  for (const { address, cidr, family } of Object.values(interfaces).flatMap((one) => one ?? [])) {
    const prefix = Number(cidr?.split('/')[1] ?? Number.NaN);
    const kind = family === 'IPv6' ? 'ipv6' : 'ipv4';
    if (prefix >= 8) list.addSubnet(address, prefix, kind);
    else list.addAddress(address, kind);
  }
  return list;
}

/** What is thrown for an address that must not be talked to. `final`: the settings say so themselves; else a name led there, now. */
export class AddressRefused extends Error {
  readonly final: boolean;
  constructor(message: string, final: boolean) {
    super(message);
    this.final = final;
  }
}

/** Resolves a name to all its addresses. */
export type Resolve = (host: string, done: (error: NodeJS.ErrnoException | null, addresses: LookupAddress[]) => void) => void;

const systemResolve: Resolve = (host, done) => lookup(host, { all: true }, done);

/**
 * Decides where calls may go that an address given by somebody starts: to public addresses only, and to hosts and addresses that are allowed
 * by name. A name may resolve to something else each time, so what counts is the address that a connection has.
 */
export interface AddressGuard {
  /** Throws AddressRefused for an address that must not be called, whatever its name resolves to. */
  checkUrl(url: URL): void;
  /** Resolves a name, leaving out what is not permitted; fails with AddressRefused when nothing is left. */
  readonly lookup: LookupFunction;
  /** Throws AddressRefused when a connection to `host` has ended up at an address that is not permitted. */
  checkConnected(host: string, address: string | undefined): void;
}

/** A host as it is compared: in lower case, without brackets. */
export const bare = (host: string): string => host.toLowerCase().replace(/^\[|\]$/g, '');

/** @param options.allow host names and addresses that are permitted though they are not public. */
export function createAddressGuard({ allow, resolve = systemResolve }: { allow: readonly string[]; resolve?: Resolve }): AddressGuard {
  const named = new Set(allow.map(bare));
  const permits = (host: string, address: string): boolean =>
    named.has(bare(host)) || named.has(bare(address).replace(/^::ffff:(?=\d+\.)/, '')) || isPublic(address);
  const leadsTo = (host: string, address: string) =>
    new AddressRefused(`${host} leads to ${address}, which is not on the internet: a network portal, or to be named under "allow"`, false);

  return {
    checkUrl({ hostname, port }) {
      const host = bare(hostname);
      if (isIP(host) !== 0 && !permits(host, host)) throw new AddressRefused(`${host} is not on the internet; name it under "allow" if it is meant`, true);
      if (!named.has(host) && !PORTS.has(port))
        throw new AddressRefused(`port ${port} of ${host} is not called; name the host under "allow" if it is meant`, true);
    },
    lookup: (host, { all }, done) =>
      resolve(host, (error, found) => {
        const good = error ? [] : found.filter(({ address }) => permits(host, address));
        const [first] = good;
        if (first === undefined) return done(error ?? leadsTo(host, found[0]?.address ?? 'nowhere'), all ? [] : '');
        if (all) done(null, good);
        else done(null, first.address, first.family);
      }),
    checkConnected(host, address) {
      if (address === undefined || !permits(host, address)) throw leadsTo(host, address ?? 'nowhere');
    },
  };
}
