/** The most that a load can draw and take as it starts, W, and how long it can be asked about or planned for, minutes. Apart from the schemas so that the browser needs no schema library. */
export const MOST_LOAD_W = 20_000;
export const MOST_PEAK_W = 50_000;
export const MOST_RUN_MINUTES = 1440;
