import { type BedtimeInputs, bedtimeText, morningText } from '../../engine/notify/briefing.ts';
import { type Draft, draft, type Letterhead } from '../../engine/notify/notice.ts';
import type { PresentRoute } from '../../engine/notify/reach.ts';
import { bedtimeWords, PROOF_MS } from '../../engine/notify/reach-words.ts';
import { dueOccasion, earlierInEvening, minutesOf } from '../../engine/notify/time-of-day.ts';
import { reasonOf } from '../../shared/errors.ts';
import type { TonightAdvice } from '../../shared/schema/advice.ts';
import type { ReachView } from '../../shared/schema/notice.ts';
import type { NightRow } from '../../shared/schema/projection.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { EpochMs } from '../../shared/units.ts';
import { type Document, documentOf, NOTIFY_KIND } from './notified.ts';
import { within } from './within.ts';

/** What the briefings speak of. */
export interface RoundInputs {
  /** What is known of tonight but for the advice and the reach. */
  bedtime(): Pick<BedtimeInputs, 'projection' | 'remarks' | 'setpointC'>;
  /** The advice at a confidence of 0.8; null when none can be given. */
  tonight(): Promise<TonightAdvice | null>;
  /** The newest row of the ledger; null before the first. */
  lastNight(): Promise<NightRow | null>;
}

/** What is done once a day: the evening's check of every route, the briefing at bedtime, the one in the morning. */
export interface Rounds {
  tick(nowMs: EpochMs): void;
  idle(): Promise<void>;
}

export interface RoundsOptions {
  readonly inputs: RoundInputs;
  file(): Pick<RigFile, 'rig' | 'callOut' | 'briefings'>;
  timeZone(): string;
  /** The last occasion of each round. */
  readonly past: Readonly<Record<string, string>>;
  reach(): ReachView;
  present(): readonly PresentRoute[];
  /** Posts news in one with what must be kept beside it. */
  post(routes: readonly string[], what: Draft, beside: readonly Document[]): void;
  readonly log: { warn(what: string): void };
}

/** Later than this a round is left out: the night has begun, the morning is over. */
const LATE_MIN = 120;
const CHECK_AHEAD_MIN = 30;
const LATE_MS = LATE_MIN * 60_000;
/** When the check is made where there are neither quiet hours nor a briefing. */
const PLAIN_EVENING = '22:00';
const LOOK_EVERY_MS = 60_000;
/** What a briefing speaks of is waited for so long. */
const ASKED_MS = 30_000;

export function createRounds(options: RoundsOptions): Rounds {
  const { inputs, file, log } = options;
  let done = options.past;
  let lookedMs = Number.NEGATIVE_INFINITY;
  let working: Promise<void> | null = null;

  const letterhead = (nowMs: EpochMs): Letterhead => ({ rigName: file().rig.name, nowMs, timeZone: options.timeZone() });

  /** Notes an occasion; false when it was noted already. */
  function begins(round: string, occasion: string): boolean {
    if (done[round] === occasion) return false;
    done = { ...done, [round]: occasion };
    return true;
  }
  /** Kept in one with what is told, so that a restart tells it neither twice nor not at all. */
  const post = (routes: readonly string[], what: Draft, nowMs: EpochMs): void => options.post(routes, what, [documentOf(NOTIFY_KIND, 'done', nowMs, done)]);

  function check(nowMs: EpochMs): void {
    const { quietHours } = file().callOut;
    const evenings = [quietHours?.[0], file().briefings.bedtime].flatMap((at) => (at ? [minutesOf(at)] : []));
    const minute = (evenings.length === 0 ? minutesOf(PLAIN_EVENING) : evenings.reduce(earlierInEvening)) - CHECK_AHEAD_MIN;
    const occasion = dueOccasion({ minute, lateMin: LATE_MIN }, options.timeZone(), nowMs);
    if (occasion === null || !begins('check', occasion)) return;
    const unproven = options.reach().routes.filter(({ remote, receivedMs }) => remote && (receivedMs === null || nowMs - receivedMs >= PROOF_MS));
    const text = 'The evening check: alarms of tonight would come this way.';
    const expiresMs = nowMs + LATE_MS;
    const what = draft({ eventId: `check-${occasion}`, kind: 'check', priority: 'low', title: 'Alarms reach you here', text, expiresMs }, letterhead(nowMs));
    post(
      unproven.map(({ name }) => name),
      what,
      nowMs,
    );
  }

  async function bedtime(nowMs: EpochMs): Promise<void> {
    const { bedtime: at, routes } = file().briefings;
    if (at === null) return;
    const occasion = dueOccasion({ minute: minutesOf(at), lateMin: LATE_MIN }, options.timeZone(), nowMs);
    if (occasion === null || !begins('bedtime', occasion)) return;
    const advice = await within(inputs.tonight(), ASKED_MS, 'the advice').catch((error: unknown) => {
      log.warn(`no advice for the briefing: ${reasonOf(error)}`);
      return null;
    });
    const words = bedtimeWords(options.reach(), nowMs, options.timeZone());
    const text = bedtimeText({ ...inputs.bedtime(), advice, reachWords: words, units: file().rig.units, timeZone: options.timeZone() });
    brief(routes, `bedtime-${occasion}`, text, nowMs);
  }

  async function morning(nowMs: EpochMs): Promise<void> {
    const { morning: isWanted, routes } = file().briefings;
    if (!isWanted) return;
    const night = await within(inputs.lastNight(), ASKED_MS, 'the ledger');
    if (!night || nowMs - night.endMs >= LATE_MS || nowMs < night.endMs || !begins('morning', night.nightId)) return;
    brief(routes, `morning-${night.nightId}`, morningText(night, options.timeZone()), nowMs);
  }

  function brief(routes: readonly string[], eventId: string, { title, text }: { title: string; text: string }, nowMs: EpochMs): void {
    post(routes, draft({ eventId, kind: 'briefing', priority: 'low', title, text, expiresMs: nowMs + LATE_MS }, letterhead(nowMs)), nowMs);
  }

  return {
    tick(nowMs) {
      if (working || Math.abs(nowMs - lookedMs) < LOOK_EVERY_MS) return;
      lookedMs = nowMs;
      check(nowMs);
      working = bedtime(nowMs)
        .then(() => morning(nowMs))
        .catch((error: unknown) => log.warn(`a briefing failed: ${reasonOf(error)}`))
        .finally(() => {
          working = null;
        });
    },
    idle: async () => (await working) ?? undefined,
  };
}
