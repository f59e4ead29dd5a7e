import type { TopicView } from '../../../../shared/schema/sensor-book.ts';
import { fieldId, likeliest } from '../format/payload-tree.ts';
import type { App } from './app.svelte.ts';
import type { SensorsState } from './sensors.svelte.ts';
import type { SettingsBook } from './settings-book.svelte.ts';
import { fetchTopic } from './topic-watch.svelte.ts';

/** Topics that are taken apart to find a signal in; a box hears a few dozen. */
const MOST_TOPICS = 60;

/** The three sensors that are enough, in the order in which they are asked for, with what is said of them. */
export const THREE = [
  { signal: 'bank.current', label: 'Bank current', about: 'from the shunt', isNeeded: true },
  { signal: 'bank.voltage', label: 'Bank voltage', about: 'mostly in the same message', isNeeded: true },
  { signal: 'panels.power', label: 'Panel power', about: 'from the charge controller, or a sensor behind it', isNeeded: false },
] as const;

/** The signal being mapped: its topic and field, '' where they are still to be chosen. */
interface Open {
  readonly signal: string;
  readonly topic: string;
  readonly field: string;
}

/** The first sensors of a rig, mapped one by one. */
export class SensorsStepState {
  readonly #app: App;
  readonly sensors: SensorsState;
  readonly book: SettingsBook;
  open = $state.raw<Open | null>(null);
  isSearching = $state(false);
  /** The bank current was mapped on this page; and somebody has said which way it flows, or that they cannot tell. */
  #isMappedHere = $state(false);
  #isAnswered = $state(false);
  isTurning = $state(false);
  refused = $state('');

  constructor(app: App, sensors: SensorsState, book: SettingsBook) {
    this.#app = app;
    this.sensors = sensors;
    this.book = book;
  }

  /** Every topic heard, mapped or not. */
  readonly topics = $derived.by(() => {
    const used = this.#app.live.signals.flatMap(({ topics }) => topics).map((topic) => ({ topic }));
    const unmapped = this.sensors.report?.unmapped ?? [];
    return [...new Map([...used, ...unmapped].map((one) => [one.topic, one])).values()];
  });

  /** Which way the bank current flows is still to be said: a wrong sign spoils all that follows, so a new rig is asked again after the page was loaded anew. */
  readonly asksSign = $derived.by(
    () => !this.#isAnswered && this.#app.live.signal('bank.current') !== undefined && (this.#isMappedHere || this.#app.live.rig?.settingUp === true),
  );

  /** Both required signals are there, fresh and believed. */
  readonly comeIn = $derived.by(() =>
    THREE.filter(({ isNeeded }) => isNeeded).every(({ signal }) => {
      const now = this.#app.live.shown(signal);
      return now !== null && now.value !== null && now.old === '';
    }),
  );

  /** Opens a signal's mapping at the field that it is most likely read from. */
  async choose(signal: string): Promise<void> {
    const mapped = this.#app.live.signal(signal);
    if (mapped?.info.topics[0] !== undefined) {
      this.open = { signal, topic: mapped.info.topics[0], field: '' };
      return;
    }
    this.isSearching = true;
    const views = await Promise.all(this.topics.slice(0, MOST_TOPICS).map(({ topic }) => this.#view(topic)));
    this.isSearching = false;
    const found = likeliest(
      signal,
      views.filter((view) => view !== null),
    );
    const shown = this.topics[views.findIndex((view) => view !== null && view.topic === found?.topic)]?.topic;
    this.open = found && shown !== undefined ? { signal, topic: shown, field: fieldId(found.field) } : { signal, topic: '', field: '' };
  }

  async #view(topic: string): Promise<TopicView | null> {
    let view: TopicView | null = null;
    // A topic that is gone meanwhile is none to find anything in.
    await this.#app.read(async () => {
      view = await fetchTopic(topic);
    });
    return view;
  }

  /** Any other signal: the topic first, what it is afterwards. */
  chooseAny(): void {
    this.open = { signal: '', topic: '', field: '' };
  }

  chooseTopic(topic: string): void {
    if (this.open) this.open = { ...this.open, topic, field: '' };
  }

  /** Another topic than the likeliest. */
  chooseOther(): void {
    if (this.open) this.open = this.open.topic === '' ? null : { ...this.open, topic: '', field: '' };
  }

  done(signal: string): void {
    this.open = null;
    if (signal !== 'bank.current') return;
    this.#isMappedHere = true;
    this.#isAnswered = false;
  }

  /** The person cannot tell which way it flows; the file stays as it is. */
  leaveSign(): void {
    this.#isAnswered = true;
  }

  /** The person says whether the bank charges now; when the reading says the contrary, its sign is turned round. */
  async confirm(isCharging: boolean): Promise<void> {
    const value = this.#app.live.shown('bank.current')?.value ?? 0;
    if (value > 0 === isCharging || value === 0) {
      this.#isAnswered = true;
      return;
    }
    const spec = this.book.book?.signals.find(({ name }) => name === 'bank.current')?.spec;
    if (!spec || this.isTurning) return;
    this.isTurning = true;
    this.refused = await this.book.edit({
      what: 'signal',
      name: 'bank.current',
      spec: { ...spec, chargingIs: spec.chargingIs === 'positive' ? 'negative' : 'positive' },
    });
    this.isTurning = false;
    this.#isAnswered = this.refused === '';
  }
}
