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

const named = () => location.hash.split('/');
const fromHash = (): Place => PLACES.find((place) => place === named()[1]) ?? 'balance';

/** The place that the address names, `#/place` or `#/place/part`. */
export class PlaceState {
  current = $state<Place>(fromHash());
  /** The part of the place; '' when the address names none. */
  part = $state(named()[2] ?? '');

  constructor() {
    window.addEventListener('hashchange', () => {
      this.current = fromHash();
      this.part = named()[2] ?? '';
      window.scrollTo(0, 0);
    });
  }
}
