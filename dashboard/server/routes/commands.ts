import type { FastifyInstance } from 'fastify';
import { AppError } from '../../../shared/errors.ts';
import { Command, CommandResult } from '../../../shared/schema/api.ts';
import { asOperator } from '../guard.ts';
import type { RigPort } from '../ports.ts';
import { incoming, outgoing } from '../wire.ts';

/** Results remembered for repeats; a repeat comes within seconds, when an answer was lost on its way. */
const REMEMBERED = 500;

/** POST /api/commands: operators only; each id is done once, and only before its expiry (`expiresMs`, the rig's time). */
export function commandRoutes(api: FastifyInstance, rig: RigPort) {
  const done = new Map<string, { command: string; result: Promise<CommandResult> }>();

  function once(command: Command, by: string): Promise<CommandResult> {
    const text = JSON.stringify(command);
    const earlier = done.get(command.id);
    if (earlier && earlier.command !== text) throw new AppError('REQUEST_INVALID', 'this id belongs to another command; give every command an id of its own');
    if (earlier) return earlier.result;
    const lateMs = rig.nowMs() - command.expiresMs;
    if (lateMs >= 0)
      throw new AppError('COMMAND_EXPIRED', `the command arrived ${Math.ceil(lateMs / 1000)} s after its expiry and was not done; give it again`);
    const result = rig.command(command, by);
    done.set(command.id, { command: text, result });
    if (done.size > REMEMBERED) done.delete(done.keys().next().value ?? '');
    // One that failed may be tried again under its id.
    result.catch(() => done.delete(command.id));
    return result;
  }

  api.post('/commands', async ({ body, visitor }) => {
    const { by } = asOperator(visitor, 'give commands');
    return outgoing(CommandResult, await once(incoming(Command, body), by));
  });
}
