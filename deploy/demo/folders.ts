/** Data folders of the demo: no rig file can have such an id, so nobody's rig ever meets simulated data. Faster than life it has one of its own. */
export const DEMO_FOLDER = '_demo';
export const PACED_DEMO_FOLDER = '_demo-paced';
