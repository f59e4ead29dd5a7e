/** For how many steps each setting was held, by the setting in tenths of a degree Celsius. */
export type HeldSettings = Readonly<Record<string, number>>;

/** With one step more at a setting, deg C; null: it is not known. */
export function withSetting(held: HeldSettings, settingC: number | null): HeldSettings {
  if (settingC === null) return held;
  const tenths = String(Math.round(10 * settingC));
  return { ...held, [tenths]: (held[tenths] ?? 0) + 1 };
}

/** The setting that was held longest, deg C to a tenth; null when none was known. */
export function longestHeldC(held: HeldSettings): number | null {
  const entries = Object.entries(held);
  if (entries.length === 0) return null;
  const [tenths] = entries.reduce((best, entry) => (entry[1] > best[1] ? entry : best));
  return Number(tenths) / 10;
}
