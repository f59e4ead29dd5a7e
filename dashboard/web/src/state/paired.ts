import type { z } from 'zod';
import type { PairResult } from '../../../../shared/schema/api.ts';
import { postJson } from './api.ts';

const KEY = 'dawnhold.role';

/** Trades a code for this device's token, which the browser keeps in a cookie that the page cannot read. Throws ApiFault. */
export async function pair(code: string, deviceName: string): Promise<void> {
  const { role } = await postJson<z.infer<typeof PairResult>>('/api/pair', { code, deviceName });
  try {
    localStorage.setItem(KEY, role);
  } catch {
    // Only the words on the Rig screen are lost with it.
  }
}

/** The role this device was paired with, as far as it remembers. */
export function pairedRole(): string | null {
  try {
    return localStorage.getItem(KEY);
  } catch {
    return null;
  }
}

/** Whether this device may give commands, as far as it remembers; the box decides. */
export const mayAct = (): boolean => pairedRole() !== 'viewer';
