import type { Command } from '../../shared/schema/api.ts';
import { deedText } from './alarm-commands.ts';

/** What a command did, for the log. */
export function deed(command: Command): string {
  switch (command.kind) {
    case 'plan-load':
      return `planned ${command.powerW} W for ${command.minutes} min (${command.id})`;
    case 'drop-load':
      return `took the planned load ${command.loadId} out`;
    case 'note-night':
      return `wrote a note to the night of ${command.nightId}`;
    case 'name-place':
      return command.name === '' ? 'took the name of a place away' : `named a place ${command.name}`;
    case 'tell-time':
      return 'gave the box the time of the device';
    case 'edit-rig':
      return `edited ${'name' in command.change ? `the signal ${command.change.name}` : command.change.what} in the rig file`;
    default:
      return deedText(command);
  }
}
