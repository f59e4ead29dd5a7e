import type { Advice, AdviceQuestion } from '../../shared/schema/advice.ts';
import { breakdownOf } from './breakdown.ts';
import { canRun } from './can-run.ts';
import { type CaseInput, caseOf, leftAlone, nightAhead } from './case.ts';
import { helpsOf } from './helps.ts';
import { rungsOf } from './ladder.ts';
import { darkPanels, longCaseOf, twoNights } from './long.ts';
import { scheduleAdvice, setpointAdvice } from './setpoint.ts';
import { surplusAdvice } from './surplus.ts';

/**
 * Answers a question about the night ahead: some dozens of small ensembles of the same draws. Pure and deterministic for a seed; never sure of
 * more than a hundred members can tell.
 */
export function advise(input: CaseInput, question: AdviceQuestion): Advice {
  const usual = caseOf(input);
  if (question.kind === 'run') return canRun(usual, question);
  const base = leftAlone(usual);
  const { confidence } = question;
  const ladder = rungsOf(base);
  const long = longCaseOf(base, input.plan);
  return {
    kind: 'tonight',
    tMs: input.snapshot.tMs,
    confidence,
    base: nightAhead(usual.outcome),
    ladder,
    setpoint: setpointAdvice(base, ladder, confidence),
    schedule: scheduleAdvice(base, confidence),
    surplus: surplusAdvice(long),
    twoNights: twoNights(base, long),
    darkPanels: darkPanels(long, base.outcome.takeover?.tMs ?? null),
    helps: helpsOf(usual, base, input.plan),
    breakdown: breakdownOf(base),
  };
}
