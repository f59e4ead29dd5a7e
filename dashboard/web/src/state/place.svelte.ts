export const PLACES = ['balance', 'tonight', 'nights', 'alarms', 'sensors', 'rig'] as const;
export type Place = (typeof PLACES)[number];

export const PLACE_NAMES: Readonly<Record<Place, string>> = {
  balance: 'Balance',
  tonight: 'Tonight',
  nights: 'Nights',
  alarms: 'Alarms',
  sensors: 'Sensors',
  rig: 'Rig',
};

const fromHash = (): Place => PLACES.find((place) => `#/${place}` === location.hash) ?? 'balance';

/** The place that the address names. */
export class PlaceState {
  current = $state<Place>(fromHash());

  constructor() {
    window.addEventListener('hashchange', () => {
      this.current = fromHash();
      window.scrollTo(0, 0);
    });
  }
}
