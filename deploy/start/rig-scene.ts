import { dirname } from 'node:path';
import { openRigFile, type RigFilePort } from '../../collector/config/edit.ts';
import { makeSource } from '../../collector/mqtt/make-source.ts';
import { reasonOf } from '../../shared/errors.ts';
import { brokerSecrets } from '../environment.ts';
import { keptIn } from '../project.ts';
import { systemClock } from '../runtime/clock.ts';
import { machineClock } from './machine-clock.ts';
import type { Scene } from './scene.ts';

/** An engine whose state cannot be used is built anew from the readings of so many days. */
const LOOK_BACK_MS = 3 * 86_400_000;

/** Without credentials anybody on the network could make up readings. */
function brokerBound(): string {
  const how = 'set DAWNHOLD_BROKER_USER and DAWNHOLD_BROKER_PASSWORD where Dawnhold is started, start it again, and repeat the edit';
  try {
    return brokerSecrets() === null ? `to open it to the network, ${how}` : '';
  } catch (error) {
    return `its credentials cannot be used: ${reasonOf(error)}`;
  }
}

/** A person's rig by its rig file. Hand edits of the file take effect while it runs. */
export async function rigScene(rigPath: string, data: string | undefined): Promise<Scene> {
  let changed: (port: RigFilePort) => void = () => {};
  const port = await openRigFile(rigPath, () => changed(port));
  const { file } = port.current();
  const clock = systemClock(undefined, await machineClock());
  return {
    clock,
    boxClock: clock,
    facts: { demo: false, pace: 1 },
    rigFolder: dirname(rigPath),
    dataFolder: data ?? keptIn(file.rig.id),
    startsAfresh: false,
    file,
    lookBack: { ms: LOOK_BACK_MS, filled: false },
    past: async () => [],
    async watch(onChange) {
      changed = ({ current }) => onChange(current().file, current().fault);
      changed(port);
    },
    edits: () => ({ ...port, brokerBound }),
    backed: { rigPath, folderFor: (rigId) => ({ folder: data ?? keptIn(rigId) }) },
    source: (now) => makeSource(now, brokerSecrets(), dirname(rigPath)),
    begin: async () => {},
    end: () => port.close(),
  };
}
