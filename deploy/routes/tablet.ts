import type { Sender, SendResult } from '../../shared/ports.ts';
import { later, sent } from './outcome.ts';

/** Open screens by whether they may sound. */
export interface Tablets {
  readonly sounding: number;
  readonly silent: number;
}

/**
 * The sound of the screens that are open in the rig. Nothing goes over a wire here: screens sound by the alarms that they see in the live
 * view. `sent` means that at least one is open and may sound.
 */
export function createTabletSender(tablets: () => Tablets): Sender {
  const state = async (): Promise<SendResult> => {
    const { sounding, silent } = tablets();
    if (sounding > 0) return sent(sounding === 1 ? 'one open screen may sound' : `${sounding} open screens may sound`);
    if (silent === 0) return later('no screen is open');
    return later(`${silent === 1 ? 'the open screen has' : 'the open screens have'} not been allowed to sound: touch "Allow sound" there`);
  };
  return { kind: 'tablet', remote: false, targets: () => [{ id: '', name: 'open screens' }], send: state, probe: state, close: async () => undefined };
}
