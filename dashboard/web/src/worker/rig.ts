import type { PushBody } from '../../../../shared/push-body.ts';
import type { Command, CommandResult, Now, Receipt } from '../../../../shared/schema/api.ts';
import type { Outcome } from './notification.ts';

/** A phone away from the rig's network must hear soon that it is: an answer may take this long, ms. */
const LIMIT_MS = 6000;
/** A command that reaches the box later than this (real ms) is not carried out. */
const COMMAND_LIFE_MS = 15_000;

/** A command as it is meant; its id and expiry are given when it is sent. */
type Meant<C = Command> = C extends Command ? Omit<C, 'id' | 'expiresMs'> : never;
type Ask = (path: string, init?: RequestInit) => Promise<Response>;

const post = (body: unknown): RequestInit => ({ method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
const askRig: Ask = (path, init) => fetch(path, { ...init, signal: AbortSignal.timeout(LIMIT_MS) });

/** The body of an answer as JSON; null for anything else, such as the page of a network's portal. */
const bodyOf = async <T>(answer: Response) => (await answer.json().catch(() => null)) as Partial<T> | null;

/**
 * Gives the rig a command from outside the page, by the rig's own clock. Only an answer that is the rig's own counts as done or refused;
 * all else is `unreachable`.
 */
export async function command(meant: Meant, ask: Ask = askRig): Promise<Outcome> {
  try {
    const clock = await ask('/api/now');
    const now = await bodyOf<Now & { message: string }>(clock);
    if (!clock.ok) return refusal(now?.message);
    if (typeof now?.nowMs !== 'number') return { kind: 'unreachable' };
    const given = { ...meant, id: crypto.randomUUID(), expiresMs: Math.ceil(now.nowMs + COMMAND_LIFE_MS * (now.pace ?? 1)) };
    const answer = await ask('/api/commands', post(given));
    const result = await bodyOf<CommandResult & { message: string }>(answer);
    if (!answer.ok) return refusal(result?.message);
    if (result?.id !== given.id) return { kind: 'unreachable' };
    return result.done ? { kind: 'done' } : refusal(result.reason);
  } catch {
    return { kind: 'unreachable' };
  }
}

/** A refusal in the rig's words; an error answer without any is not the rig's. */
const refusal = (reason: string | undefined): Outcome => (reason ? { kind: 'refused', reason } : { kind: 'unreachable' });

/** Acknowledges what a notification shows, and nothing that came after it. */
export async function acknowledge({ alarmId, occurrence }: PushBody, ask: Ask = askRig): Promise<Outcome> {
  if (alarmId === null || occurrence === null) return { kind: 'refused', reason: 'This cannot be acknowledged.' };
  return command({ kind: 'acknowledge', alarmId, occurrence }, ask);
}

/** Tells the rig that a notice was shown here, where the rig can be reached; where not, it is left at that. */
export async function tellShown(receipt: Receipt, ask: Ask = askRig): Promise<void> {
  await ask('/api/receipts', post(receipt)).catch(() => undefined);
}
