export const PLACES = ['balance', 'tonight', 'nights', 'alarms', 'sensors', 'rig'] as const;
/** The guide is no place of the row: it stands where the balance would while the rig is being set up. */
export type Place = (typeof PLACES)[number] | 'guide';

export const PLACE_NAMES: Readonly<Record<Place, string>> = {
  balance: 'Balance',
  tonight: 'Tonight',
  nights: 'Nights',
  alarms: 'Alarms',
  sensors: 'Sensors',
  rig: 'Rig',
  guide: 'Setting up',
};

const named = () => location.hash.split('/');
const fromHash = (): Place => ([...PLACES, 'guide'] as const).find((place) => place === named()[1]) ?? 'balance';

/** The place that the address names, `#/place`, `#/place/part` or `#/place/part/item`. */
export class PlaceState {
  current = $state<Place>(fromHash());
  /** The part of the place; '' when the address names none. */
  part = $state(named()[2] ?? '');
  /** What the part is about, such as a night; '' when the address names nothing. */
  item = $state(named()[3] ?? '');

  constructor() {
    window.addEventListener('hashchange', () => {
      this.current = fromHash();
      this.part = named()[2] ?? '';
      this.item = named()[3] ?? '';
      window.scrollTo(0, 0);
    });
  }
}
