import { acknowledge, shelve, unshelve } from '../../engine/alarms/reduce.ts';
import { OF_WATCH } from '../../shared/built-in-alarms.ts';
import { reasonOf } from '../../shared/errors.ts';
import { BUILT_IN_ALARMS } from '../../shared/schema/alarm-rule.ts';
import type { Command } from '../../shared/schema/api.ts';
import type { AlarmDesk } from './alarm-desk.ts';
import { editAlarms } from './alarm-edits.ts';
import { logEntry } from './alarm-log.ts';
import type { RigClock } from './clock.ts';
import type { Core } from './core.ts';
import type { EditPort } from './file-edits.ts';
import type { Keeper } from './keeper.ts';

/** Commands about an alarm's own life: also for a recording that is played, in which nobody is told. */
export type LifeCommand = Extract<Command, { kind: 'acknowledge' | 'shelve' | 'unshelve' }>;
/** Commands about who is told, the watch and the rules. */
const BUILT_IN_IDS: ReadonlySet<string> = new Set(BUILT_IN_ALARMS);

export type DeskCommand = Extract<Command, { kind: 'try-routes' | 'arm-watch' | 'disarm-watch' | 'subscribe-push' | 'revoke-push' | 'edit-alarms' }>;

export interface AlarmCommandOptions {
  readonly core: Core;
  readonly keeper: Keeper;
  readonly clock: RigClock;
  /** Null where nobody is told. */
  readonly desk: AlarmDesk | null;
  /** A text: why the rig file cannot be edited here. */
  edits(): EditPort | string;
}

/** Does the commands about alarms. Both resolve with why a command was refused, '' when it was done; what it changed is on disk then. */
export interface AlarmCommands {
  life(command: LifeCommand, by: string): Promise<string>;
  desk(command: DeskCommand, by: string): Promise<string>;
}

const MINUTE_MS = 60_000;

export function createAlarmCommands({ core, keeper, clock, desk, edits }: AlarmCommandOptions): AlarmCommands {
  function outcomeOf(command: LifeCommand, by: string) {
    const [alarms, rules, time] = [core.loop.alarms(), core.rules(), clock.now()];
    switch (command.kind) {
      case 'acknowledge':
        return acknowledge(alarms, command.alarmId, command.occurrence, by, time, rules);
      case 'shelve':
        return shelve(alarms, command.alarmId, MINUTE_MS * command.minutes, by, time, rules);
      case 'unshelve':
        return unshelve(alarms, command.alarmId, by, time, rules);
    }
  }

  async function done(command: DeskCommand, by: string, at: AlarmDesk): Promise<string> {
    switch (command.kind) {
      case 'try-routes':
        return at.notifier.tryRoutes(command.route);
      case 'arm-watch':
        return at.watchMode.arm(command.order, by, at.situation());
      case 'disarm-watch':
        return at.watchMode.disarm(by, clock.now().wallMs);
      case 'subscribe-push':
        return at.senders.devices.add({ name: command.name, subscription: command.subscription, by });
      case 'revoke-push':
        return (await at.senders.devices.revoke(command.deviceId)) ? '' : 'it is not subscribed any more';
      case 'edit-alarms': {
        const port = edits();
        return typeof port === 'string' ? port : editAlarms(command, port);
      }
    }
  }

  return {
    async life(command, by) {
      const isOfWatch = command.kind === 'shelve' && OF_WATCH.has(command.alarmId);
      if (isOfWatch && desk?.watch()?.armed) return 'the watch is armed: acknowledge the alarm, or disarm the watch';
      const { state, changes, refused } = outcomeOf(command, by);
      if (refused !== '') return refused;
      core.loop.setAlarms(state);
      await keeper.alarms(state, changes, clock.now());
      desk?.kept();
      return '';
    },
    async desk(command, by) {
      if (!desk) return 'a recording is played, and nobody is told of its alarms';
      const reason = await done(command, by, desk).catch((error: unknown) => `it could not be kept: ${reasonOf(error)}`);
      // The watch keeps its own record of who armed it.
      if (reason === '' && !command.kind.endsWith('-watch')) {
        void keeper.keep([logEntry({ kind: 'deed', tMs: clock.now().wallMs, by, what: deedText(command) })]);
      }
      return reason;
    },
  };
}

/** What a command did, for the log. */
export function deedText(command: LifeCommand | DeskCommand): string {
  switch (command.kind) {
    case 'acknowledge':
      return `acknowledged ${command.alarmId}`;
    case 'shelve':
      return `shelved ${command.alarmId} for ${command.minutes} min`;
    case 'unshelve':
      return `took ${command.alarmId} off its shelf`;
    case 'try-routes':
      return `tested ${command.route ?? 'every route'}`;
    case 'arm-watch':
      return 'armed the watch over somebody inside';
    case 'disarm-watch':
      return 'disarmed the watch over somebody inside';
    case 'subscribe-push':
      return `subscribed ${command.name} to alarms`;
    case 'revoke-push':
      return 'revoked a device';
    case 'edit-alarms':
      return editText(command.change);
  }
}

function editText(change: Extract<Command, { kind: 'edit-alarms' }>['change']): string {
  switch (change.what) {
    case 'rule':
      return `edited the rule ${change.entry.id}`;
    case 'drop-rule':
      return BUILT_IN_IDS.has(change.ruleId) ? `put the rule ${change.ruleId} back as built in` : `removed the rule ${change.ruleId}`;
    case 'call-out':
      return 'edited who is called';
    case 'briefings':
      return 'edited the briefings';
  }
}
