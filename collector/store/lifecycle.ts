import { AppError } from '../../shared/errors.ts';

type State = 'closed' | 'opening' | 'open' | 'closing';

/** Opening and closing of a store: who may be served when, and closing that waits for what is under way. */
export interface Lifecycle {
  /** Opens once; a second call while opening or open joins the first. After a failure the store is closed again. */
  open(): Promise<void>;
  /** Serves `action` while open; else rejects with STORE_CLOSED. */
  run<T>(action: () => T | Promise<T>): Promise<T>;
  /** Refuses new actions at once, waits for those under way, then closes. Closing a closed store does nothing. */
  close(): Promise<void>;
}

/** Builds the lifecycle around an adapter's own opening and closing. */
export function createLifecycle(hooks: { open(): Promise<void>; close(): Promise<void> }): Lifecycle {
  let state: State = 'closed';
  let turning: Promise<void> = Promise.resolve();
  const underWay = new Set<Promise<unknown>>();

  async function turnOn(): Promise<void> {
    try {
      await hooks.open();
      state = 'open';
    } catch (error) {
      state = 'closed';
      throw error;
    }
  }

  async function turnOff(): Promise<void> {
    await Promise.allSettled(underWay);
    try {
      await hooks.close();
    } finally {
      state = 'closed';
    }
  }

  return {
    async open() {
      if (state === 'closing') await turning.catch(() => undefined);
      if (state === 'closed') {
        state = 'opening';
        turning = turnOn();
      }
      return turning;
    },
    async run<T>(action: () => T | Promise<T>): Promise<T> {
      if (state !== 'open') throw new AppError('STORE_CLOSED', `the store is ${state === 'closing' ? 'closing' : 'not open'}: open it before use`);
      const result = Promise.resolve(action());
      underWay.add(result);
      try {
        return await result;
      } finally {
        underWay.delete(result);
      }
    },
    async close() {
      if (state === 'opening') await turning.catch(() => undefined);
      if (state === 'open') {
        state = 'closing';
        turning = turnOff();
      }
      return state === 'closing' ? turning : undefined;
    },
  };
}
