import type { Notice } from '../../shared/schema/notice.ts';

const PRIORITY_WORDS = { low: 'Low', medium: 'Medium', high: 'High', critical: 'Critical' } as const;
const KIND_WORDS = { returned: 'Over', test: 'Test', check: 'Check', briefing: null } as const;

/** A name or text without control and direction characters: they could begin a header of their own, or turn a line round. */
const plain = (text: string): string => text.replaceAll(/[^\S\n]+/g, ' ').replaceAll(/(?!\n)\p{C}/gu, '');
const oneLine = (text: string): string => plain(text.replaceAll(/\s+/g, ' ')).trim();

/** The subject begins with what one needs to know first: how urgent it is, or that it is over. */
export function subjectOf({ kind, priority, title, rigName }: Notice): string {
  const word = kind === 'alarm' ? PRIORITY_WORDS[priority] : KIND_WORDS[kind];
  return oneLine(`${word === null ? '' : `${word}: `}${title} (${rigName})`);
}

/** The body, plain text: what happens, what would help, when that was said, and how to acknowledge it. */
export function textOf({ kind, text, helps, rigName, issuedText }: Notice): string {
  const help = helps.length === 0 ? [] : ['What would help:', ...helps.map((one) => `- ${oneLine(one)}`), ''];
  const acknowledge = kind === 'alarm' ? ['A mail cannot acknowledge an alarm: do that on a screen of the rig.'] : [];
  return [plain(text), '', ...help, oneLine(`Said by ${rigName} at ${issuedText}.`), ...acknowledge, ''].join('\n');
}

/**
 * The mail's own id: the same for every attempt at one notice, so that one that came twice is shown once; another for each notice, so that a
 * mail box does not drop a reminder as a copy. All mails about one event refer to `threadId`. @source RFC 5322 (2008), section 3.6.4.
 */
export function messageIds({ eventId, noticeId }: Notice, domain: string): { messageId: string; threadId: string } {
  const event = eventId.replaceAll(/[^A-Za-z0-9-]/g, '_');
  return { messageId: `<${event}.${noticeId}@${domain}>`, threadId: `<${event}@${domain}>` };
}
