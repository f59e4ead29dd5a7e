import type { AlarmEntry } from '../../shared/schema/alarm-rule.ts';
import type { RulePreview } from '../../shared/schema/rule-preview.ts';

const DAY_MS = 86_400_000;

/** A preview whose every third night sounded twice, and whose first was not seen. */
export function rulePreview(nowMs: number, count = 30): RulePreview {
  const nights = Array.from({ length: count }, (_, i): RulePreview['nights'][number] => {
    const fromMs = nowMs - (count - i) * DAY_MS;
    const at = (hours: number, priority: 'medium' | 'high') => ({
      raisedMs: fromMs + hours * 3_600_000,
      clearedMs: fromMs + (hours + 1) * 3_600_000,
      priority,
      forUnknown: false,
    });
    const soundings = i % 3 === 2 ? [at(10, 'medium'), at(16, 'high')] : [];
    return { nightId: new Date(fromMs).toISOString().slice(0, 10), fromMs, toMs: fromMs + DAY_MS, soundings, seenShare: i === 0 ? 0 : 1 };
  });
  const sounding = nights.filter(({ soundings }) => soundings.length > 0).length;
  return {
    ...{ fromMs: nowMs - count * DAY_MS, toMs: nowMs, stepS: 60, nights, soundings: 2 * sounding, nightsWithSound: sounding },
    ...{ standsNow: false, notWatched: '', notRebuilt: ['which readings were not believed is not kept'] },
  };
}

/** A preview in which nothing sounded. */
export function quietPreview(nowMs: number): RulePreview {
  const preview = rulePreview(nowMs);
  return { ...preview, nights: preview.nights.map((night) => ({ ...night, soundings: [] })), soundings: 0, nightsWithSound: 0 };
}

/** What a box answers: a rule with an on-delay of an hour never sounds; one with a limit of 2000 is refused. */
export function previewAnswer(entry: AlarmEntry, nowMs: number): [number, unknown] {
  const message = 'when.above: got the number 2000, expected under 1000 W';
  if (JSON.stringify(entry).includes('2000')) return [400, { code: 'REQUEST_INVALID', message, issues: [] }];
  return [200, (entry.onDelay ?? 0) >= 3600 ? quietPreview(nowMs) : rulePreview(nowMs)];
}
