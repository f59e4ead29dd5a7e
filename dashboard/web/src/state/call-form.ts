import type { Priority } from '../../../../shared/schema/alarm.ts';
import type { Briefings, CallOut } from '../../../../shared/schema/routes.ts';
import { readTyped } from '../format/limit.ts';
import { PRIORITY_ORDER } from './priority.ts';
import type { Faults } from './rule-entry.ts';
import { minutesText } from './rule-form.ts';

/** Steps after the first that one priority has at most. */
export const MOST_STEPS = 3;

export interface StepForm {
  after: string;
  routes: string[];
}

/** Who is called for one priority, as it stands in the form. */
export interface CallForm {
  first: string[];
  /** At night others than by day. */
  nightDiffers: boolean;
  atNight: string[];
  steps: StepForm[];
}

export interface CallOutForm {
  hasQuiet: boolean;
  from: string;
  to: string;
  calls: Record<Priority, CallForm>;
  repeat: string;
}

/** The loudest first, as everywhere on the screens. */
export const LOUD_FIRST: readonly Priority[] = [...PRIORITY_ORDER].reverse();

export function callOutForm(callOut: CallOut): CallOutForm {
  const of = (priority: Priority): CallForm => {
    const { first, atNight, then } = callOut[priority];
    return {
      first: [...first],
      nightDiffers: atNight !== undefined,
      atNight: [...(atNight ?? first)],
      steps: then.map(({ after, routes }) => ({ after: minutesText(after), routes: [...routes] })),
    };
  };
  return {
    hasQuiet: callOut.quietHours !== null,
    from: callOut.quietHours?.[0] ?? '22:00',
    to: callOut.quietHours?.[1] ?? '07:00',
    calls: { critical: of('critical'), high: of('high'), medium: of('medium'), low: of('low') },
    repeat: minutesText(callOut.repeatEvery),
  };
}

const isClock = (text: string): boolean => /^([01]\d|2[0-3]):[0-5]\d$/.test(text);

/** What the form means; null while something in it is wrong, which `faults` says by field. */
export function readCallOut(form: CallOutForm): { callOut: CallOut | null; faults: Faults } {
  const faults: Record<string, string> = {};
  const seconds = (field: string, text: string) => {
    const value = Math.round((readTyped(text, '', 'metric') ?? Number.NaN) * 60);
    if (!(value >= 60 && value <= 86_400)) faults[field] = 'Enter minutes from 1 to 1440.';
    return value;
  };
  if (form.hasQuiet && !isClock(form.from)) faults.from = 'Enter a time such as 22:30.';
  if (form.hasQuiet && !isClock(form.to)) faults.to = 'Enter a time such as 07:00.';
  if (form.hasQuiet && form.from === form.to) faults.to ??= 'Enter another time than the beginning.';
  const call = (priority: Priority): CallOut[Priority] => {
    const { first, nightDiffers, atNight, steps } = form.calls[priority];
    const isLoud = priority === 'critical' || priority === 'high';
    if (isLoud && first.length === 0) faults[priority] = 'Choose somebody: an alarm that loud must reach you.';
    const next = steps.map(({ after, routes }, i) => {
      if (routes.length === 0) faults[`${priority}.${i}`] = 'Choose who is next, or take the step out.';
      return { after: seconds(`${priority}.${i}.after`, after), routes: [...routes] };
    });
    if (next.some(({ after }, i) => i > 0 && after <= (next[i - 1]?.after ?? 0))) {
      faults[`${priority}.${next.length - 1}.after`] ??= 'Enter more minutes than for the step before.';
    }
    return { first: [...first], ...(form.hasQuiet && nightDiffers && { atNight: [...atNight] }), then: next };
  };
  const callOut: CallOut = {
    quietHours: form.hasQuiet ? [form.from, form.to] : null,
    low: call('low'),
    medium: call('medium'),
    high: call('high'),
    critical: call('critical'),
    repeatEvery: seconds('repeat', form.repeat),
  };
  return Object.keys(faults).length > 0 ? { callOut: null, faults } : { callOut, faults };
}

export interface BriefingsForm {
  hasBedtime: boolean;
  bedtime: string;
  morning: boolean;
  routes: string[];
}

export const briefingsForm = ({ bedtime, morning, routes }: Briefings): BriefingsForm => ({
  hasBedtime: bedtime !== null,
  bedtime: bedtime ?? '22:00',
  morning,
  routes: [...routes],
});

export function readBriefings(form: BriefingsForm): { briefings: Briefings | null; faults: Faults } {
  const faults: Record<string, string> = {};
  if (form.hasBedtime && !isClock(form.bedtime)) faults.bedtime = 'Enter a time such as 22:00.';
  if ((form.hasBedtime || form.morning) && form.routes.length === 0) faults.routes = 'Choose how it is told, or turn both off.';
  if (Object.keys(faults).length > 0) return { briefings: null, faults };
  return { briefings: { bedtime: form.hasBedtime ? form.bedtime : null, morning: form.morning, routes: [...form.routes] }, faults };
}
