import type { RigFileChange } from '../../collector/config/patch.ts';
import { isLoopback } from '../../collector/mqtt/broker.ts';
import type { Command } from '../../shared/schema/api.ts';
import type { RigChange } from '../../shared/schema/rig-book.ts';
import { type RigFile, SIGNAL_PARTS, type SignalSpec } from '../../shared/schema/rig-file.ts';
import { FORECAST, REQUIRED_SIGNALS } from '../../shared/signals.ts';
import { type EditPort, editFile, keyChanges, written } from './file-edits.ts';

type Edit = Extract<Command, { kind: 'edit-rig' }>;

/** A signal as read when its entry says nothing but a topic: what a new entry need not write. */
const PLAIN: SignalSpec = SIGNAL_PARTS.signal.parse({ topic: 'any' });

/** Changes settings or mappings in the rig file; only the keys that differ are touched. Resolves with why it was refused, '' when it is on disk and in force. */
export function editRig({ change, hash }: Pick<Edit, 'change' | 'hash'>, port: EditPort): Promise<string> {
  return editFile(port, hash, withinOf(change), (file) => unusable(change, port) || changesOf(change, file));
}

/** Why the rig could not run with what the file would say, though the file alone would be in order; '' when it could. */
function unusable(change: RigChange, port: EditPort): string {
  if (change.what !== 'broker' || change.value.url !== undefined || isLoopback(change.value.listen)) return '';
  const first = port.brokerBound?.() ?? '';
  return first && `listen: got ${change.value.listen}, expected 127.0.0.1, the address of this box alone; ${first}`;
}

function withinOf(change: RigChange): RegExp {
  const section = 'value' in change ? change.what : 'name' in change ? 'signals' : 'bank';
  return new RegExp(`^${section}\\.(.+)$`);
}

function changesOf(change: RigChange, file: RigFile): readonly RigFileChange[] | string {
  switch (change.what) {
    case 'rig':
      if (change.value.id !== file.rig.id) return 'the short name of the rig cannot be changed while it runs: all that is kept lies under it';
      return keyChanges(['rig'], file.rig, { ...change.value, settingUp: file.rig.settingUp });
    case 'broker':
      // A path on the box is nothing that the screens know of.
      return keyChanges(['broker'], file.broker, { ...change.value, caFile: change.value.caFile ?? file.broker.caFile });
    case 'bank':
    case 'store':
      return keyChanges([change.what], file[change.what], change.value);
    case 'place':
    case 'inverter':
    case 'minisplit':
      return sectionChanges(change.what, file[change.what], change.value);
    case 'panels':
      return JSON.stringify(file.panels) === JSON.stringify(change.value) ? [] : [{ path: ['panels'], value: written(change.value) }];
    case 'floor':
      return keyChanges(['bank'], { floor: file.bank.floor }, { floor: change.floorPct });
    case 'confidence':
      return keyChanges(['bank'], { confidence: file.bank.confidence }, { confidence: change.confidencePct });
    case 'signal':
      return signalChanges(change.name, change.spec, file);
    case 'forecast':
      return sectionChanges(FORECAST, file.signals.forecast ?? undefined, change.spec, ['signals']);
    case 'offset': {
      const spec = file.signals.specs.get(change.name);
      if (!spec) return 'the rig file names no such signal any more; look again';
      if (spec.sum) return 'it is the sum of several topics; the zero of each is set in the rig file';
      return keyChanges(['signals', change.name], { offset: spec.offset }, { offset: change.offset });
    }
    case 'set-up': {
      const missing = REQUIRED_SIGNALS.filter((name) => !file.signals.specs.has(name));
      if (missing.length > 0) return `still to be mapped, since nothing can be computed without it: ${missing.join(', ')}`;
      return file.rig.settingUp ? [{ path: ['rig', 'settingUp'], value: undefined }] : [];
    }
  }
}

function sectionChanges(key: string, before: object | undefined, after: object | null, under: readonly string[] = []): RigFileChange[] {
  const path = [...under, key];
  if (before && after) return keyChanges(path, before, after);
  if (!before && !after) return [];
  return [{ path, value: after ? written(after) : undefined }];
}

function signalChanges(name: string, spec: SignalSpec | null, file: RigFile): RigFileChange[] | string {
  const before = file.signals.specs.get(name);
  const path = ['signals', name];
  if (!spec) return before ? [{ path, value: undefined }] : 'it is not mapped any more';
  return before ? keyChanges(path, before, spec) : [{ path, value: lean(spec) }];
}

/** A new entry without what goes without saying. */
function lean(spec: SignalSpec): unknown {
  const entries = Object.entries(spec).filter(([key, value]) => key === 'topic' || JSON.stringify(value) !== JSON.stringify(Reflect.get(PLAIN, key)));
  return written(Object.fromEntries(entries));
}
