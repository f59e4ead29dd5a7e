import type { AlarmRule } from '../../shared/schema/alarm-rule.ts';
import { spanText } from '../clock.ts';
import type { Quantities } from './quantities.ts';

const MOST_CHARS = 400;

const short = (text: string): string => (text.length <= MOST_CHARS ? text : `${text.slice(0, MOST_CHARS - 1)}…`);

/** A message taken apart once: plain text and, at every second place, the name of a value. */
export type Message = readonly string[];

export const messageOf = (text: string): Message => text.split(/\{([^{}]+)\}/).map((part, i) => (i % 2 === 0 ? part : part.trim()));

/** The messages of a rule, ready to be filled. */
export interface Messages {
  readonly standing: Message;
  readonly unknown: Message;
  readonly returned: Message;
}

export const messagesOf = (rule: Pick<AlarmRule, 'message' | 'messageOver' | 'messageUnknown'>): Messages => ({
  standing: messageOf(rule.message),
  unknown: messageOf(rule.messageUnknown),
  returned: messageOf(rule.messageOver),
});

/** What the texts of a rule's alarm are made from in one step. */
export interface Telling {
  readonly messages: Messages;
  /** Signals and quantities whose values the rule reads. */
  readonly reads: readonly string[];
  readonly quantities: Quantities;
  /** Titles of other alarms that it holds back. */
  readonly hidden: readonly string[];
}

/** Why what a rule reads is not known: each reason once. */
function whyOf({ reads, quantities }: Telling): string {
  const reasons = reads.filter((name) => quantities.value(name) === null).map((name) => quantities.whyUnknown(name));
  return [...new Set(reasons.filter((reason) => reason !== ''))].slice(0, 2).join('; ') || 'what it watches is not known';
}

/** What an alarm says, by where it stands, with the values of the moment; at most 400 characters. */
export function textOf(where: keyof Messages, telling: Telling): string {
  let text = '';
  const message = telling.messages[where];
  for (let i = 0; i < message.length; i++) {
    const part = message[i] as string;
    text += i % 2 === 0 ? part : part === 'why' && where === 'unknown' ? whyOf(telling) : telling.quantities.words(part);
  }
  if (where === 'standing' && telling.hidden.length > 0) text += ` It holds back: ${telling.hidden.join(', ')}.`;
  return short(text);
}

/** What an alarm says that stands for its off-delay only: as once it is over, and when that will be. */
export const overSoonText = (telling: Telling, offMs: number): string =>
  short(`${textOf('returned', telling)} The alarm is over once that has lasted ${spanText(offMs / 1000)}.`);
