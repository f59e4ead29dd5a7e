import { inWords } from '../../collector/config/issues.ts';
import type { PreviewPort } from '../../dashboard/server/ports.ts';
import { createPreview, LEAD_MS } from '../../engine/alarms/preview.ts';
import type { PastNeeds } from '../../engine/alarms/preview-needs.ts';
import { type NightSpan, nightSpans } from '../../engine/alarms/preview-nights.ts';
import type { StoredPast } from '../../engine/alarms/preview-past.ts';
import { checkedRules, rulesOf } from '../../engine/alarms/rule.ts';
import type { EngineState, RigModel } from '../../engine/types.ts';
import { AppError, type Issue } from '../../shared/errors.ts';
import type { AlarmEntry } from '../../shared/schema/alarm-rule.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { RulePreview, RulePreviewQuestion } from '../../shared/schema/rule-preview.ts';
import type { EpochMs } from '../../shared/units.ts';
import { type PastReader, readPast } from './preview-past.ts';
import type { PreviewRunner } from './preview-thread.ts';

export interface PreviewPortOptions extends PastReader {
  file(): RigFile;
  rig(): RigModel;
  engine(): EngineState;
  nowMs(): EpochMs;
  readonly runner: Pick<PreviewRunner, 'run'>;
}

/** An answer stands for ten minutes of the rig's time; so many are remembered. */
const STANDS_MS = 600_000;
const MOST_REMEMBERED = 100;

/**
 * Answers how a rule would have done. One preview is worked out at a time, one waits; a newer question takes the place of the one that waits,
 * which is refused with TOO_BUSY.
 */
export function createPreviewPort(options: PreviewPortOptions): PreviewPort {
  let answers = new Map<string, Promise<RulePreview>>();
  let answeredFor: RigFile | null = null;
  /** The preview under way; null while there is none. It is settled when it is over, however it ended. */
  let working: Promise<void> | null = null;
  let refuseWaiting: ((error: AppError) => void) | null = null;

  /** Waits for the preview under way, and takes its turn; rejects when a newer question takes this place. Gives what ends the turn. */
  async function turn(): Promise<() => void> {
    refuseWaiting?.(new AppError('TOO_BUSY', 'another rule is being looked at; ask again in some seconds'));
    while (working) {
      const refused = new Promise<never>((_, reject) => {
        refuseWaiting = reject;
      });
      await Promise.race([working, refused]);
    }
    refuseWaiting = null;
    let end = () => {};
    working = new Promise((resolve) => {
      end = () => {
        working = null;
        resolve();
      };
    });
    return end;
  }

  async function answer({ entry, nights }: RulePreviewQuestion, file: RigFile): Promise<RulePreview> {
    const changed = withEntry(file, entry);
    const end = await turn();
    try {
      const spans = nightSpans(options.rig().timeZone, options.nowMs(), nights);
      const asked = { ruleId: entry.id, rules: rulesOf(changed), rig: options.rig(), engine: options.engine(), spans };
      const preview = createPreview(asked);
      return preview.isEmpty ? preview.result() : await options.runner.run(asked, stretches(preview.needs, spans));
    } finally {
      end();
    }
  }

  /** What is stored, a night at a time; the next one is read while a night is followed. */
  async function* stretches(needs: PastNeeds, spans: readonly NightSpan[]): AsyncGenerator<StoredPast> {
    const firstMs = spans[0]?.fromMs ?? 0;
    for (const { fromMs, toMs } of [{ fromMs: firstMs - LEAD_MS, toMs: firstMs }, ...spans]) yield await readPast(options, needs, fromMs, toMs);
  }

  return {
    rulePreview(question) {
      const file = options.file();
      if (file !== answeredFor || answers.size >= MOST_REMEMBERED) answers = new Map();
      answeredFor = file;
      const of = answers;
      const key = JSON.stringify([Math.floor(options.nowMs() / STANDS_MS), question]);
      const known = of.get(key);
      if (known) return known;
      const coming = answer(question, file);
      of.set(key, coming);
      // What failed may be asked again.
      coming.catch(() => of.delete(key));
      return coming;
    },
  };
}

/** A file with an entry as it would be. Throws REQUEST_INVALID with every mistake in it. */
function withEntry(file: RigFile, entry: AlarmEntry): RigFile {
  const place = file.alarms.findIndex(({ id }) => id === entry.id);
  const alarms = place < 0 ? [...file.alarms, entry] : file.alarms.with(place, entry);
  const at = place < 0 ? alarms.length - 1 : place;
  const changed = { ...file, alarms };
  const issues = checkedRules(changed).issues.flatMap(({ path, got, expected, hint }): Issue[] => {
    if (path[0] !== at) return [];
    const within = path.slice(1);
    const value = within.reduce<unknown>((group, key) => (typeof group === 'object' && group !== null ? Reflect.get(group, key) : undefined), entry);
    return [{ place: '', path: within.join('.'), got: got ?? inWords(value), expected, hint }];
  });
  if (issues.length === 0) return changed;
  throw new AppError('REQUEST_INVALID', issues.map(issueWords).join('\n'), { issues });
}

const issueWords = ({ path, got, expected, hint }: Issue): string => `${path}: got ${got}, expected ${expected}${hint === '' ? '' : `; ${hint}`}`;
