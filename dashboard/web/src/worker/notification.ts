import type { PushBody } from '../../../../shared/push-body.ts';

export const ACKNOWLEDGE = 'acknowledge';
const OPEN = { action: 'open', title: 'Open' };

/** What a notification keeps for the tap on it. */
export interface NoticeData {
  /** Where a tap leads, from the root of the screens. */
  readonly path: string;
  /** Null where nothing was readable. */
  readonly body: PushBody | null;
}

/** A notification as the browser takes it (W3C Notifications API). */
export interface Shown {
  readonly title: string;
  readonly options: {
    readonly body: string;
    /** One notification a tag: the next one takes its place. */
    readonly tag: string;
    /** Sounds again although one of its tag is on the screen. */
    readonly renotify: boolean;
    /** Stays until a person deals with it. */
    readonly requireInteraction: boolean;
    readonly silent: boolean;
    readonly timestamp?: number;
    readonly icon: string;
    readonly badge: string;
    readonly actions: readonly { readonly action: string; readonly title: string }[];
    readonly data: NoticeData;
  };
}

const LOOKS = { icon: '/icon-192.png', badge: '/badge-96.png' } as const;
const LOUD = new Set(['high', 'critical']);

/** Two notices are about the same: the same alarm, or else the same event. */
export const isSameMatter = (a: PushBody, b: PushBody): boolean => (a.alarmId === null ? a.eventId === b.eventId : a.alarmId === b.alarmId);

/** A notice issued within this of now by this device's clock is news, whatever was issued before by a rig's clock that went wrong, ms. */
const FRESH_MS = 120_000;

/** Older than what was shown last: issued before it, and not a later occurrence. */
function isLate(body: PushBody, last: PushBody, nowMs: number): boolean {
  return body.issuedMs < last.issuedMs && (body.occurrence ?? 0) <= (last.occurrence ?? 0) && Math.abs(nowMs - body.issuedMs) > FRESH_MS;
}

/** The newest notice of each matter, of which at most this many are remembered. */
const REMEMBERED = 40;

/** What is remembered once a notice has been shown, the newest matter last. */
export function remember(told: readonly PushBody[], body: PushBody): readonly PushBody[] {
  return [...told.filter((one) => !isSameMatter(one, body)), body].slice(-REMEMBERED);
}

/**
 * What a push shows. Every push shows something, whatever came: a browser takes the subscription away from pages that receive silently.
 * A late one shows the newest known in its place, and one that came twice does not sound twice.
 * @param body what came; null when it could not be read
 * @param told the newest notice of each matter that this device has shown
 * @param nowMs this device's wall clock
 */
export function shownFor(body: PushBody | null, told: readonly PushBody[], nowMs: number): Shown {
  if (!body) return unreadable();
  const last = told.find((one) => isSameMatter(one, body));
  if (!last) return noticeOf(body, false);
  if (!isLate(body, last, nowMs)) return noticeOf(body, last.noticeId === body.noticeId);
  // An alarm that still stands may call once more; one that is over or got worse since may not.
  return noticeOf(last, last.kind !== 'alarm' || last.eventId !== body.eventId);
}

/** Other notifications that a new one makes untrue: those of the same alarm under another tag, such as before it got worse. */
export const isOutdatedBy = (shown: Shown, tag: string, data: NoticeData | null): boolean =>
  tag !== shown.options.tag && data?.body != null && shown.options.data.body !== null && isSameMatter(data.body, shown.options.data.body);

function unreadable(): Shown {
  return {
    title: 'Dawnhold has news',
    options: {
      ...LOOKS,
      body: 'It could not be read here. Open Dawnhold to see it.',
      tag: 'unreadable',
      renotify: true,
      requireInteraction: false,
      silent: false,
      actions: [OPEN],
      data: { path: '/#/alarms', body: null },
    },
  };
}

function noticeOf(body: PushBody, isRepeat: boolean): Shown {
  const isAlarm = body.kind === 'alarm';
  const isQuiet = isRepeat || body.kind === 'returned' || body.kind === 'check' || (body.priority === 'low' && body.kind !== 'test');
  const mayAcknowledge = isAlarm && canAcknowledge(body);
  return {
    title: body.title,
    options: {
      ...LOOKS,
      body: [body.text, ...body.helps.slice(0, 2), origin(body)].join('\n'),
      tag: body.eventId,
      renotify: !isQuiet,
      requireInteraction: isAlarm && LOUD.has(body.priority),
      silent: isQuiet,
      timestamp: body.issuedMs,
      actions: mayAcknowledge ? [{ action: ACKNOWLEDGE, title: 'Acknowledge' }, OPEN] : [OPEN],
      data: { path: body.path, body },
    },
  };
}

/** Whose news it is and of when: a phone that slept shows it late. */
const origin = (body: PushBody): string => `${body.rigName}, from ${body.issuedText}`;

const canAcknowledge = (body: PushBody): boolean => body.canAcknowledge && body.alarmId !== null && body.occurrence !== null;

/** How acknowledging from the notification ended. */
export type Outcome = { readonly kind: 'done' } | { readonly kind: 'refused'; readonly reason: string } | { readonly kind: 'unreachable' };

/** Says how acknowledging ended, in the place of the alarm's notification. What failed can be tried again from it. */
export function replyOf(body: PushBody, outcome: Outcome): Shown {
  const subject = `${body.title} (${origin(body)})`;
  const isDone = outcome.kind === 'done';
  const [title, says] = {
    done: ['Acknowledged at the rig', 'It stays on the Alarms screen until it is over.'],
    refused: ['Not acknowledged', outcome.kind === 'refused' ? outcome.reason : ''],
    unreachable: ['The rig cannot be reached from here', "Not acknowledged: the alarm goes on calling. Open Dawnhold on the rig's network."],
  }[outcome.kind] as [string, string];
  return {
    title,
    options: {
      ...noticeOf(body, true).options,
      body: `${says}\n${subject}`,
      requireInteraction: !isDone,
      actions: isDone ? [OPEN] : [{ action: ACKNOWLEDGE, title: 'Try again' }, OPEN],
    },
  };
}
