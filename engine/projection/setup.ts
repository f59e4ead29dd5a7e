import { settingHabits } from '../cabin/setting-habits.ts';
import { standInFor } from '../cabin/stand-ins.ts';
import { firstGuesses } from '../loads/first-guess.ts';
import type { Bin, Plan } from '../types.ts';
import type { Setup } from './ensemble.ts';
import { courseOf, lastHourW, pastDays, type Span, wasPullingDown } from './inputs.ts';
import { lightAhead } from './light.ts';
import type { Snapshot } from './snapshot.ts';

/** The ensemble's setup of a snapshot: its weather, its past days, what the unit drew last. */
export function setupOf(s: Snapshot, plan: Plan, span: Span, seed: number, members: number, sent: readonly Bin[]): Setup {
  const traces = s.learned?.traces ?? null;
  const bins = s.learned?.standIns ? standInFor(sent, s.learned.standIns, s.rig) : sent;
  const course = courseOf(s, plan, span);
  return {
    snapshot: s,
    span,
    course,
    standing: traces && pastDays(traces, traces.standingW, span, () => true),
    panels: lightAhead(s, span, course, bins),
    unitDays:
      traces?.minisplitW && (!course.hasWeather || s.setpointC === null || s.learned?.minisplit === null)
        ? pastDays(traces, traces.minisplitW, span, () => true)
        : null,
    chargersW: chargersNowW(bins),
    lastHourW: lastHourW(bins),
    pulledDown: s.setpointC !== null && wasPullingDown(bins, s.setpointC, s.learned?.minisplit?.heats ?? false),
    guess: firstGuesses({ bins, standingW: s.standingW, minisplitW: s.minisplitW, hasMinisplit: s.rig.minisplit !== null }),
    setpointC: s.setpointC,
    settings: traces?.setpointC && s.setpointC !== null ? settingHabits({ startMs: traces.startMs, setpointsC: traces.setpointC }, s.setpointC, span) : null,
    members,
    seed,
  };
}

/** Under this a charger's sensor shows its zero, W. */
const CHARGER_ZERO_W = 20;

/** What chargers other than the panels gave in the last ten minutes, W. */
function chargersNowW(bins: readonly Bin[]): number {
  const chargersW = bins.at(-1)?.chargersW ?? 0;
  return chargersW > CHARGER_ZERO_W ? chargersW : 0;
}
