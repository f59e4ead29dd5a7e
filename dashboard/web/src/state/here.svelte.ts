import { coordinatesText } from '../format/rig-words.ts';

/** How long a device may look for its position, ms. */
const LIMIT_MS = 30_000;
/** Decimals of a degree that are kept: about 11 m. */
const DECIMALS = 4;

const WHY_NOT: Readonly<Record<number, string>> = {
  1: 'This browser was told not to give its position. Allow it in its settings for this page, or type the coordinates.',
  2: 'This device does not know where it is. Try under the open sky, or type the coordinates.',
  3: 'It took too long. Try under the open sky, or type the coordinates.',
};

/** The position of the device that the page is on, as its browser tells it (W3C Geolocation). */
export class Here {
  isAsking = $state(false);
  said = $state('');
  /** Why it cannot be asked; '' when it can. Browsers tell it to pages on https alone, and to the box itself. */
  readonly whyNot = !window.isSecureContext
    ? 'A browser tells its position only to a page on https, and this one is not. Type the coordinates, which any compass or camera of a phone can show, or give the box a certificate and open it on https.'
    : 'geolocation' in navigator
      ? ''
      : 'This browser does not tell its position. Type the coordinates.';

  get canAsk(): boolean {
    return this.whyNot === '';
  }

  /** Latitude and longitude as they are typed; null when the device does not tell. */
  async ask(): Promise<{ latitude: string; longitude: string } | null> {
    if (this.isAsking) return null;
    this.isAsking = true;
    this.said = '';
    try {
      const { coords } = await new Promise<GeolocationPosition>((resolve, reject) =>
        navigator.geolocation.getCurrentPosition(resolve, reject, { timeout: LIMIT_MS, maximumAge: 60_000 }),
      );
      const [latitude, longitude] = [coords.latitude.toFixed(DECIMALS), coords.longitude.toFixed(DECIMALS)];
      this.said = `${coordinatesText(Number(latitude), Number(longitude))}, right to about ${Math.round(coords.accuracy)} m. Filled in; save it if the rig stands here.`;
      return { latitude, longitude };
    } catch (fault) {
      this.said = WHY_NOT[(fault as GeolocationPositionError).code] ?? 'This device does not tell where it is. Type the coordinates.';
      return null;
    } finally {
      this.isAsking = false;
    }
  }
}
