import type { SensorsReport } from '../../../../shared/schema/api.ts';
import type { SignalInfo, SignalState } from '../../../../shared/schema/live.ts';
import { signalKind } from '../../../../shared/signals.ts';
import type { Shown } from './freshness.ts';
import { FRESHNESS_WORDS, type Meaning, reasonMeaning, STALE_WORDS } from './sensor-words.ts';

type Report = SensorsReport['signals'][number];

/** How it stands with a signal: a word for the row, whether it needs somebody, and what it means. */
export interface Stand {
  readonly word: string;
  readonly isIll: boolean;
  /** Null when nothing is to be said. */
  readonly meaning: Meaning | null;
}

/** The same for every signal that is well, so that a screen sees at once that nothing has changed. */
const WELL: Stand = { word: FRESHNESS_WORDS.fresh, isIll: false, meaning: null };

/** How a signal stands, from its last state and how that is to be shown. A fault of the newest message counts before its silence before its suspicion. */
export function standOf(state: SignalState | undefined, now: Shown): Stand {
  const freshness = state?.freshness ?? 'never';
  if (freshness === 'fresh' && now.old !== '') return { word: 'no contact', isIll: true, meaning: null };
  if (freshness !== 'fresh') return { word: FRESHNESS_WORDS[freshness], isIll: true, meaning: { means: '', todo: STALE_WORDS[freshness] } };
  if (state?.quality === 'ok') return WELL;
  const found = reasonMeaning(state?.reason);
  if (state?.quality === 'bad')
    return { word: 'rejected', isIll: true, meaning: found && { means: `The last message was rejected: ${found.means}.`, todo: found.todo } };
  return { word: 'suspect', isIll: true, meaning: found };
}

/** What a signal is called: as the rig calls it, else by its kind; its own name where neither is known. */
export const signalLabel = (name: string, signals: readonly SignalInfo[]): string =>
  signals.find((info) => info.name === name)?.label ?? signalKind(name)?.label ?? name;

/** Signals with those that need somebody first, else in the order of the rig file. */
export function illFirst<S extends { readonly info: SignalInfo; readonly stand: Stand }>(signals: readonly S[]): S[] {
  return [...signals].sort((a, b) => Number(b.stand.isIll) - Number(a.stand.isIll) || a.info.index - b.info.index);
}

/** Names that a headline gives before it counts the rest. */
const NAMED = 4;

/** The place in a sentence. */
export function signalsHeadline(signals: readonly { readonly info: SignalInfo; readonly stand: Stand }[]): string {
  const ill = signals.filter(({ stand }) => stand.isIll);
  if (signals.length === 0) return 'No signal is mapped yet.';
  if (ill.length === 0) return signals.length === 1 ? 'The one signal is fresh.' : `All ${signals.length} signals are fresh.`;
  const words = [...new Set(ill.map(({ stand }) => stand.word))];
  const parts = words.map((word) => {
    const labels = ill.filter(({ stand }) => stand.word === word).map(({ info }) => info.label);
    return `${word[0]?.toUpperCase()}${word.slice(1)}: ${labels.slice(0, NAMED).join(', ')}${labels.length > NAMED ? ` and ${labels.length - NAMED} more` : ''}.`;
  });
  return parts.join(' ');
}

/** A board's clock this far off is worth telling, ms. */
const SKEW_MS = 60_000;

/** True when there is more to a signal than its row says. */
export const hasNews = (report: Report | undefined): boolean =>
  report !== undefined && (report.note !== '' || report.rejected.length > 0 || Math.abs(report.skewMs ?? 0) > SKEW_MS);

/** The skew worth telling, ms; null when there is none. */
export const skewToTell = (report: Report | undefined): number | null => (report?.skewMs != null && Math.abs(report.skewMs) > SKEW_MS ? report.skewMs : null);
