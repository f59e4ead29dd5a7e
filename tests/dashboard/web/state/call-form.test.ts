import { describe, expect, it } from 'vitest';
import { briefingsForm, callOutForm, readBriefings, readCallOut } from '../../../../dashboard/web/src/state/call-form.ts';
import { Briefings, CallOut } from '../../../../shared/schema/routes.ts';

const then = [
  { after: '10 min', routes: ['mail'] },
  { after: '30 min', routes: ['horn'] },
];
const given = CallOut.parse({
  high: { first: ['phones'], atNight: ['tablet'], then },
});

describe('the form of who is called', () => {
  it('gives back what it was made of', () => {
    expect(readCallOut(callOutForm(given)).callOut).toEqual(given);
    const none = CallOut.parse({ quietHours: null, low: { first: ['phones'] }, medium: { first: ['phones'] } });
    expect(readCallOut(callOutForm(none)).callOut).toEqual(none);
  });

  it('wants somebody for what is loud, later steps later, and times that are times', () => {
    const form = callOutForm(given);
    form.calls.critical.first = [];
    form.calls.high.steps[1] = { after: '5', routes: [] };
    form.to = form.from;
    form.repeat = '0';
    const { callOut, faults } = readCallOut(form);
    expect(callOut).toBeNull();
    expect(Object.keys(faults).toSorted()).toEqual(['critical', 'high.1', 'high.1.after', 'repeat', 'to']);
    expect(readCallOut({ ...callOutForm(given), from: '25:00' }).faults.from).toBeDefined();
  });
});

describe('the form of briefings', () => {
  it('gives back what it was made of, and turns each off', () => {
    const both = Briefings.parse({});
    expect(readBriefings(briefingsForm(both)).briefings).toEqual(both);
    expect(readBriefings({ hasBedtime: false, bedtime: 'never', morning: false, routes: [] }).briefings).toEqual({ bedtime: null, morning: false, routes: [] });
  });

  it('wants a way to tell it and a time', () => {
    expect(Object.keys(readBriefings({ hasBedtime: true, bedtime: '', morning: false, routes: [] }).faults).toSorted()).toEqual(['bedtime', 'routes']);
  });
});
