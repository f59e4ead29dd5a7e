import { spawn } from 'node:child_process';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseDocument } from 'yaml';
import { PROJECT_ROOT } from '../project.ts';
import { type AlarmScore, scoreAlarm } from './alarm-score.ts';
import { loadScorer, REFERENCE, RIGS, type RigName, type RigScore } from './reference.ts';
import { type FloorScore, SWEPT_FLOORS_PCT, sweepFloors } from './sweep.ts';

/** Which inputs the rig file maps. */
export interface Variant {
  readonly deviceSoc: boolean;
  readonly forecast: boolean;
}

export interface RigResult {
  readonly rig: RigName;
  readonly score: RigScore;
  readonly alarm: AlarmScore;
  /** The same with other floors than the owner's. */
  readonly sweep: readonly FloorScore[];
  readonly replay: ReplayFigures;
}

/** What one replay took. */
export interface ReplayFigures {
  readonly messages: number;
  readonly seconds: number;
}

/** The rig file of a recorded rig, with the inputs of a variant. */
async function rigFileText(rig: RigName, { deviceSoc, forecast }: Variant): Promise<{ text: string; floorPct: number }> {
  const document = parseDocument(await readFile(join(PROJECT_ROOT, 'tests/fixtures/rigs', `${rig}.yaml`), 'utf8'));
  if (!deviceSoc) document.deleteIn(['signals', 'bank.stateOfCharge']);
  const topic = RIGS.find((entry) => entry.rig === rig)?.forecastTopic;
  if (forecast) document.setIn(['signals', 'weather.forecast'], { topic });
  return { text: document.toString(), floorPct: Number(document.getIn(['bank', 'floor'])) };
}

/** Replays one recording in a process of its own, so that two rigs use two cores, and scores what came of it. */
async function scoreRig(rig: RigName, variant: Variant, keepIn: string | null): Promise<RigResult> {
  const folder = keepIn ?? (await mkdtemp(join(tmpdir(), 'dawnhold-score-')));
  try {
    const { text, floorPct } = await rigFileText(rig, variant);
    const rigPath = join(folder, `${rig}.yaml`);
    const outPath = join(folder, `${rig}.jsonl`);
    await writeFile(rigPath, text);
    const started = performance.now();
    await runReplay(['--rig', rigPath, '--recording', join(REFERENCE, rig, 'messages.jsonl.gz'), '--floors', SWEPT_FLOORS_PCT.join(','), '--out', outPath]);
    const seconds = (performance.now() - started) / 1000;
    const lines = (await readFile(outPath, 'utf8'))
      .trimEnd()
      .split('\n')
      .map((line) => JSON.parse(line));
    const { loadTruth, nightsOf, score } = await loadScorer();
    const rows = loadTruth(join(REFERENCE, rig, 'truth.csv.gz'));
    const nights = nightsOf(rows);
    return {
      rig,
      score: score(
        rows,
        lines.filter(({ kind }) => kind === 'projection'),
      ),
      alarm: scoreAlarm(
        rows,
        nights,
        lines.filter(({ kind }) => kind === 'alarm'),
        floorPct,
      ),
      sweep: sweepFloors(
        rows,
        nights,
        lines.filter(({ kind }) => kind === 'floors'),
      ),
      replay: { messages: lines.at(-1).messages, seconds },
    };
  } finally {
    if (keepIn === null) await rm(folder, { recursive: true, force: true });
  }
}

function runReplay(args: readonly string[]): Promise<void> {
  const main = process.argv[1] ?? '';
  const child = spawn(process.execPath, [...process.execArgv, main, 'replay', ...args], { stdio: ['ignore', 'ignore', 'pipe'] });
  let said = '';
  child.stderr.on('data', (chunk) => {
    said += chunk;
  });
  return new Promise((resolve, reject) => {
    child.on('error', reject);
    child.on('close', (code) => (code === 0 ? resolve() : reject(new Error(`the replay ended with ${code}: ${said}`))));
  });
}

/** Scores rigs, two at a time at most. */
export async function scoreRigs(rigs: readonly RigName[], variant: Variant, keepIn: string | null = null): Promise<RigResult[]> {
  const queue = [...rigs];
  const results: RigResult[] = [];
  const work = async () => {
    for (let rig = queue.shift(); rig; rig = queue.shift()) results.push(await scoreRig(rig, variant, keepIn));
  };
  await Promise.all([work(), work()]);
  return results.sort((a, b) => rigs.indexOf(a.rig) - rigs.indexOf(b.rig));
}
