import type { RigFileChange } from '../../collector/config/patch.ts';
import { type AlarmEntry, BUILT_IN_ALARMS } from '../../shared/schema/alarm-rule.ts';
import type { Command } from '../../shared/schema/api.ts';
import { type EditPort, editFile, keyChanges, written } from './file-edits.ts';

type Edit = Extract<Command, { kind: 'edit-alarms' }>;

/**
 * Changes alarms, call-out or briefings in the rig file; only what is another than now is touched, so that all else stays as the person
 * wrote it. Resolves with why it was refused, in words for the person; '' when it is on disk and in force.
 */
export function editAlarms({ change, hash }: Pick<Edit, 'change' | 'hash'>, port: EditPort): Promise<string> {
  return editFile(port, hash, WITHIN[change.what], ({ alarms, callOut, briefings }) => {
    switch (change.what) {
      case 'rule':
        return ruleChanges(alarms, change.entry);
      case 'drop-rule':
        if (!alarms.some(({ id }) => id === change.ruleId)) return notThere(change.ruleId);
        return [{ path: ['alarms', { id: change.ruleId }], value: undefined }];
      case 'call-out':
        return keyChanges(['callOut'], callOut, change.callOut);
      case 'briefings':
        return keyChanges(['briefings'], briefings, change.briefings);
    }
  });
}

/** What of the file an edit is about: a mistake in it is told by its key within. */
const WITHIN: Readonly<Record<Edit['change']['what'], RegExp>> = {
  rule: /^alarms\.\d+\.(.+)$/,
  'drop-rule': /^briefings\.(.+)$/,
  'call-out': /^callOut\.(.+)$/,
  briefings: /^briefings\.(.+)$/,
};

function ruleChanges(alarms: readonly AlarmEntry[], entry: AlarmEntry): RigFileChange[] {
  const path = ['alarms', { id: entry.id }];
  const before = alarms.find(({ id }) => id === entry.id);
  return before ? keyChanges(path, before, entry) : [{ path, value: written(entry) }];
}

function notThere(ruleId: string): string {
  return (BUILT_IN_ALARMS as readonly string[]).includes(ruleId)
    ? 'it is as built in already; to be rid of it, take it out of service'
    : 'the rig file has no such rule any more; look again';
}
