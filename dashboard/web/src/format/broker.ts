import type { HealthView } from '../../../../shared/schema/live.ts';
import { spanText } from './age.ts';

const WORDS: Readonly<Record<HealthView['broker'], string>> = { connected: 'Connected', connecting: 'Connecting', lost: 'Not connected' };

/** Where the connection with the broker stands: "Connected for 26 h". */
export const brokerText = ({ broker, brokerSinceMs }: HealthView, nowMs: number): string => `${WORDS[broker]} for ${spanText(nowMs - brokerSinceMs)}`;

/** True for an address that only the box itself reaches. */
export const isLoopback = (host: string): boolean => host === 'localhost' || host === '::1' || host === '[::1]' || host.startsWith('127.');

/**
 * What boards must name to reach the broker of this box, and who can.
 * @param pageHost  the host under which this page came, which is the box
 */
export function boardsText(
  { listen, port }: { readonly listen: string; readonly port: number },
  pageHost: string,
): { readonly address: string; readonly who: string } {
  if (isLoopback(listen)) return { address: `127.0.0.1, port ${port}`, who: 'Only programs on this box reach it; boards on the network do not yet.' };
  const isAll = listen === '0.0.0.0' || listen === '::';
  const host = !isAll ? listen : isLoopback(pageHost) ? 'the address of this box' : pageHost;
  return { address: `${host}, port ${port}`, who: 'Boards on the network reach it with the user and the password that you gave.' };
}
