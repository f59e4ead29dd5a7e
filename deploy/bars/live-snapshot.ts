import { io } from 'socket.io-client';
import { LIVE_EVENTS } from '../../shared/live-version.ts';
import { LiveSnapshot } from '../../shared/schema/live.ts';

/** The live view of a running program, as a screen gets it on connecting. */
export async function snapshotOf(url: string): Promise<LiveSnapshot> {
  const socket = io(url, { transports: ['websocket'], forceNew: true });
  try {
    return await new Promise((resolve, reject) => {
      socket.on(LIVE_EVENTS.snapshot, (body: unknown) => resolve(LiveSnapshot.parse(body)));
      socket.on('connect_error', reject);
    });
  } finally {
    socket.disconnect();
  }
}
