import type { Priority } from './schema/alarm.ts';
import type { Notice } from './schema/notice.ts';

/**
 * What a push message carries, as JSON of at most 2 kB: all that the service worker needs to show a notice while the rig is out of its reach.
 * Free of the schema library, since the service worker reads it.
 */
export interface PushBody {
  readonly noticeId: string;
  /** Two with the same one are the same news: the tag of the notification. */
  readonly eventId: string;
  readonly kind: Notice['kind'];
  readonly title: string;
  /** Cut, with an ellipsis at its end, where it would not fit. */
  readonly text: string;
  /** What would help; as many of them as fit. */
  readonly helps: readonly string[];
  readonly priority: Priority;
  /** Epoch ms: an older one does not replace a newer one. */
  readonly issuedMs: number;
  /** The same by the clock of the rig, such as 04:10. */
  readonly issuedText: string;
  readonly rigName: string;
  readonly canAcknowledge: boolean;
  readonly alarmId: string | null;
  readonly occurrence: number | null;
  /** Where a tap leads, from the root of the screens. */
  readonly path: string;
}

/** Most bytes of a body: push services take about 4 kB, encryption included (RFC 8030, section 7.2). */
export const MAX_PUSH_BYTES = 2000;

/** Where a notice of any kind leads: the Alarms place. */
const ALARMS_PATH = '/#/alarms';

const encoder = new TextEncoder();
const bytesOf = (body: PushBody): number => encoder.encode(JSON.stringify(body)).length;

/** The body of a notice, cut to fit: helps go first, the last one before the others, then the end of the text. */
export function pushBody(notice: Notice): PushBody {
  const { noticeId, eventId, kind, title, text, helps, priority, issuedMs, issuedText, rigName, canAcknowledge, alarmId, occurrence } = notice;
  let body: PushBody = {
    ...{ noticeId, eventId, kind, title, text, helps, priority, issuedMs, issuedText, rigName, canAcknowledge, alarmId, occurrence },
    path: ALARMS_PATH,
  };
  while (bytesOf(body) > MAX_PUSH_BYTES && body.helps.length > 0) body = { ...body, helps: body.helps.slice(0, -1) };
  for (let letters = [...text]; bytesOf(body) > MAX_PUSH_BYTES && letters.length > 0; body = { ...body, text: `${letters.join('')}…` }) {
    letters = letters.slice(0, -Math.ceil(letters.length / 16));
  }
  return body;
}

/** Reads a body that came by push; null for anything else. */
export function readPushBody(text: string): PushBody | null {
  try {
    const body = JSON.parse(text) as Partial<PushBody> | null;
    const texts = [body?.noticeId, body?.eventId, body?.kind, body?.title, body?.text, body?.priority, body?.issuedText, body?.rigName, body?.path];
    if (!body || texts.some((one) => typeof one !== 'string') || typeof body.issuedMs !== 'number' || !Array.isArray(body.helps)) return null;
    return body as PushBody;
  } catch {
    return null;
  }
}
