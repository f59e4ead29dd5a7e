import type { Priority } from '../../../../shared/schema/alarm.ts';
import type { RulePreview } from '../../../../shared/schema/rule-preview.ts';
import { PRIORITY_ORDER, PRIORITY_WORDS } from '../state/priority.ts';
import { spanText } from './age.ts';
import { clockTime, dateText } from './zone.ts';

type Night = RulePreview['nights'][number];
type Sounding = Night['soundings'][number];

/** A night of which less than this was seen says nothing, if it says nothing. */
const SEEN_SHARE = 0.5;

/** A night as a column of the picture: what sounded as bars from the noon at the top to the noon at the foot, in shares of the day. */
export interface NightColumn {
  readonly nightId: string;
  /** The loudest that sounded; null: nothing did. */
  readonly loudest: Priority | null;
  readonly isSeen: boolean;
  readonly bars: readonly { readonly fromFrac: number; readonly spanFrac: number; readonly priority: Priority }[];
}

/** A sounding too short for the eye is drawn this long, share of a day. */
const LEAST_FRAC = 0.045;
const DAY_MS = 86_400_000;

export function nightColumns({ nights, toMs }: RulePreview): readonly NightColumn[] {
  return nights.map((night) => ({
    nightId: night.nightId,
    loudest: loudestOf(night),
    isSeen: isSeen(night),
    bars: night.soundings.map(({ raisedMs, clearedMs, priority }) => {
      const fromFrac = Math.min(1 - LEAST_FRAC, Math.max(0, (raisedMs - night.fromMs) / DAY_MS));
      const untilFrac = Math.min(1, ((clearedMs ?? toMs) - night.fromMs) / DAY_MS);
      return { fromFrac, spanFrac: Math.max(LEAST_FRAC, untilFrac - fromFrac), priority };
    }),
  }));
}

const loudestOf = ({ soundings }: Night): Priority | null =>
  PRIORITY_ORDER[Math.max(-1, ...soundings.map(({ priority }) => PRIORITY_ORDER.indexOf(priority)))] ?? null;

/** A night that sounded is one that was seen. */
const isSeen = (night: Night): boolean => night.soundings.length > 0 || night.seenShare >= SEEN_SHARE;

const times = (count: number): string => (count === 1 ? 'once' : count === 2 ? 'twice' : `${count} times`);
const nightsText = (count: number): string => (count === 1 ? 'night' : `${count} nights`);

/** What came of it, in a sentence: "Over the last 30 nights this would have sounded on 4 of them, 6 times in all." */
export function previewSentence(preview: RulePreview): string {
  const { nights, soundings, nightsWithSound } = preview;
  const seen = nights.filter(isSeen).length;
  if (seen === 0) return `How often this would have sounded over the last ${nightsText(nights.length)} is not known.`;
  const over = `Over the last ${nightsText(nights.length)} this would`;
  if (soundings === 0) return `${over} not have sounded.`;
  if (soundings === 1) return `${over} have sounded once.`;
  return `${over} have sounded on ${nightsWithSound === 1 ? 'one' : nightsWithSound} of them, ${times(soundings)} in all.`;
}

/** What goes with the sentence, in a line: that it stands, what was raised for want of data, what was not seen; why, where nothing was. */
export function previewNotes(preview: RulePreview): string {
  const { nights, standsNow } = preview;
  const unseen = nights.filter((night) => !isSeen(night)).length;
  const unknown = nights.flatMap(({ soundings }) => soundings).filter(({ forUnknown }) => forUnknown).length;
  if (unseen === nights.length) return leftOutText(preview);
  return [
    standsNow ? 'It would stand now.' : '',
    unknown === 0 ? '' : `${capital(times(unknown))} because its data was missing.`,
    unseen === 0 ? '' : `${unseen === 1 ? 'One night was' : `${unseen} nights were`} not seen.`,
  ]
    .filter((text) => text !== '')
    .join(' ');
}

/** What it watches that is not stored; '' where all is. */
export const leftOutText = ({ notRebuilt }: RulePreview): string => (notRebuilt.length === 0 ? '' : `What this leaves out: ${notRebuilt.join('; ')}.`);

/** How an edited rule differs from the rule as it is: "9 times fewer than as it is now". */
export function differenceText(before: RulePreview, after: RulePreview): string {
  const more = after.soundings - before.soundings;
  if (more === 0) return before.soundings === 0 ? 'Never, as it is now.' : 'As often as it is now.';
  const count = Math.abs(more);
  return `${count} ${count === 1 ? 'time' : 'times'} ${more > 0 ? 'more' : 'fewer'} than as it is now.`;
}

const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);

/** A row of the table beside the picture. */
export interface PreviewRow {
  readonly night: string;
  readonly said: string;
}

/** Every night with when it would have sounded, for how long and how loud; the newest first. */
export function previewRows({ nights }: RulePreview, zone: string): readonly PreviewRow[] {
  return nights.map((night) => ({ night: dateText(night.nightId), said: saidOf(night, zone) })).reverse();
}

function saidOf(night: Night, zone: string): string {
  if (!isSeen(night)) return 'not seen';
  if (night.soundings.length === 0) return 'quiet';
  return night.soundings.map((sounding) => soundingText(sounding, zone)).join('; ');
}

function soundingText({ raisedMs, clearedMs, priority, forUnknown }: Sounding, zone: string): string {
  const long = clearedMs === null ? 'and stands' : `for ${spanText(clearedMs - raisedMs)}`;
  return `${clockTime(raisedMs, zone)} ${long}, ${PRIORITY_WORDS[priority].toLowerCase()}${forUnknown ? ', data missing' : ''}`;
}
