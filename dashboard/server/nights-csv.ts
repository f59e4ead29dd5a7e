import { nearestName } from '../../shared/places.ts';
import type { NightDetail, NightPoint, PlaceName } from '../../shared/schema/night-book.ts';
import type { NightRow } from '../../shared/schema/projection.ts';
import { degreeUnit, type Units } from '../../shared/value-text.ts';
import { csvFile, localTimes } from './csv.ts';

/** How the file is written: in the rig's zone and units, with what people call places and have noted. */
export interface NightWords {
  readonly timeZone: string;
  readonly units: Units;
  readonly places: readonly PlaceName[];
  readonly notes: ReadonlyMap<string, string>;
}

type Column<T> = readonly [heading: string, value: (item: T) => string | number | null | undefined];

const written = <T>(columns: readonly Column<T>[], items: readonly T[]): string =>
  csvFile(
    columns.map(([heading]) => heading),
    items.map((item) => columns.map(([, value]) => value(item) ?? null)),
  );

/** Turns a temperature in deg C into the rig's units, to a tenth. */
const degrees =
  (units: Units) =>
  (tempC: number | null | undefined): number | null =>
    tempC === null || tempC === undefined ? null : Math.round(10 * (units === 'us' ? tempC * 1.8 + 32 : tempC)) / 10;

/** The ledger as a file for a spreadsheet, a row a night, units in the headings, dates and times by the rig's clock. */
export function nightsCsv(rows: readonly NightRow[], { timeZone, units, places, notes }: NightWords): string {
  const local = localTimes(timeZone);
  const at = (tMs: number | null) => (tMs === null ? null : local(tMs));
  const unit = `°${degreeUnit(units)}`;
  const inUnits = degrees(units);
  const said = (moment: string, of: (row: NightRow) => NightRow['projectedAtBedtime']): Column<NightRow>[] =>
    (['p10Pct', 'p50Pct', 'p90Pct'] as const).map((key) => [`lowest said at ${moment} ${key.slice(0, 3)} (%)`, (row) => of(row)?.lowPoint[key]]);
  return written(
    [
      ['night', (row) => row.nightId],
      ['place', (row) => (row.place ? nearestName(places, row.place)?.name : null)],
      ['latitude (°)', (row) => row.place?.latitudeDeg],
      ['longitude (°)', (row) => row.place?.longitudeDeg],
      ['begins', (row) => local(row.startMs)],
      ['sunset', (row) => at(row.sunsetMs)],
      ['sunrise', (row) => at(row.sunriseMs)],
      ['takeover', (row) => at(row.takeoverMs)],
      ['ends', (row) => local(row.endMs)],
      ['charge at the beginning (%)', (row) => row.startSocPct],
      ['charge at sunrise (%)', (row) => row.sunriseSocPct],
      ['lowest (%)', (row) => row.lowPointPct],
      ['lowest at', (row) => local(row.lowPointMs)],
      ...said('sunset', (row) => row.projectedAtSunset),
      ...said('bedtime', (row) => row.projectedAtBedtime),
      ['mini-split (Wh)', (row) => row.minisplitWh],
      ['mini-split is estimated', (row) => (row.minisplitEstimated ? 'yes' : 'no')],
      ['standing loads (Wh)', (row) => row.standingWh],
      ['inverter (Wh)', (row) => row.inverterWh],
      ['panels (Wh)', (row) => row.panelsWh],
      ['other chargers (Wh)', (row) => row.chargersWh],
      ['from the bank (Wh)', (row) => row.bankOutWh],
      ['from no known source (Wh)', (row) => row.unexplainedChargeWh],
      ['surplus about (Wh)', (row) => row.surplusWh],
      [`outside lowest (${unit})`, (row) => inUnits(row.outsideMinC)],
      [`outside mean (${unit})`, (row) => inUnits(row.outsideMeanC)],
      [`outside highest (${unit})`, (row) => inUnits(row.outsideMaxC)],
      [`dew point outside (${unit})`, (row) => inUnits(row.dewPointC)],
      [`cabin mean (${unit})`, (row) => inUnits(row.cabinMeanC)],
      [`dew point in the cabin (${unit})`, (row) => inUnits(row.cabinDewPointC)],
      [`setpoint (${unit})`, (row) => inUnits(row.setpointC)],
      ['seen (share)', (row) => row.coverage],
      ['learned from', (row) => (row.learnedFrom ? 'yes' : 'no')],
      ['note', (row) => notes.get(row.nightId)],
    ],
    rows,
  );
}

/** The ten-minute means of one night as a file for a spreadsheet, from noon to noon. */
export function nightCsv({ points }: NightDetail, { timeZone, units }: Pick<NightWords, 'timeZone' | 'units'>): string {
  const local = localTimes(timeZone);
  const unit = `°${degreeUnit(units)}`;
  const inUnits = degrees(units);
  const rounded = (value: number | null) => value && Math.round(10 * value) / 10;
  const powers: Column<NightPoint>[] = (
    [
      ['panels', 'panelsW'],
      ['other chargers', 'chargersW'],
      ['mini-split', 'minisplitW'],
      ['standing loads', 'standingW'],
      ['inverter', 'inverterW'],
      ['surplus about', 'surplusW'],
    ] as const
  ).map(([words, key]) => [`${words} (W)`, (point) => rounded(point[key])]);
  return written(
    [
      ['time', (point) => new Date(point.tMs).toISOString()],
      ['local time', (point) => local(point.tMs)],
      ['state of charge (%)', (point) => rounded(point.socPct)],
      ...powers,
      [`outside (${unit})`, (point) => inUnits(point.outsideC)],
      [`cabin (${unit})`, (point) => inUnits(point.cabinC)],
      [`setpoint (${unit})`, (point) => inUnits(point.setpointC)],
    ],
    points,
  );
}
