import type { CodeAnswer, DeviceList } from '../../../../shared/schema/rig-book.ts';
import { codeLifeMs } from '../format/rig-words.ts';
import { ApiFault, getJson, postJson } from './api.ts';
import type { App } from './app.svelte.ts';
import { mayAct } from './paired.ts';

export type Device = DeviceList[number];
export type DeviceRole = Device['role'];

/** Who is paired, and the code that lets one more in. All of it is for devices that may act. */
export class Devices {
  readonly #app: App;
  list = $state.raw<DeviceList | null>(null);
  fault = $state('');
  said = $state('');
  isBusy = $state(false);
  role = $state<DeviceRole>('viewer');
  code = $state.raw<{ readonly text: string; readonly role: DeviceRole; readonly untilMs: number } | null>(null);
  /** Moved on once a second while a code counts; on this device's steady clock. */
  steadyMs = $state(performance.now());

  constructor(app: App) {
    this.#app = app;
  }

  /** What is left of the code, ms. */
  get leftMs(): number {
    return this.code ? Math.max(0, this.code.untilMs - this.steadyMs) : 0;
  }

  async refresh(): Promise<void> {
    if (!mayAct()) return;
    await this.#do(async () => {
      this.list = await getJson<DeviceList>('/api/devices');
    });
  }

  async makeCode(): Promise<void> {
    const { role } = this;
    await this.#do(async () => {
      const { code, expiresMs } = await postJson<CodeAnswer>('/api/devices/code', { role });
      this.steadyMs = performance.now();
      this.code = { text: code, role, untilMs: this.steadyMs + codeLifeMs(expiresMs, this.#app.live.nowMs) };
    });
  }

  async revoke({ deviceId, name }: Device): Promise<void> {
    this.said = '';
    await this.#do(async () => {
      const { revoked } = await postJson<{ revoked: boolean }>('/api/devices/revoke', { deviceId });
      this.list = (this.list ?? []).filter((device) => device.deviceId !== deviceId);
      this.said = revoked ? `${name} is no longer let in.` : `${name} was no longer paired.`;
    });
    await this.refresh();
  }

  /** Looks who has come while a code counts; returns what ends it. */
  follow(): () => void {
    let sinceLook = 0;
    const timer = setInterval(() => {
      if (!this.code) return;
      this.steadyMs = performance.now();
      if (this.leftMs === 0) return;
      sinceLook = (sinceLook + 1) % 5;
      if (sinceLook === 0) void this.#lookWhoCame();
    }, 1000);
    return () => clearInterval(timer);
  }

  async #lookWhoCame(): Promise<void> {
    const before = new Set(this.list?.map(({ deviceId }) => deviceId));
    await this.refresh();
    const newest = this.list?.find(({ deviceId }) => !before.has(deviceId));
    if (!newest || before.size === 0) return;
    this.code = null;
    this.said = `${newest.name} is let in.`;
  }

  /** The answer that this device may not act is one of the list, no reason to ask for a code. */
  async #do(work: () => Promise<void>): Promise<void> {
    this.isBusy = true;
    try {
      await work();
      this.fault = '';
    } catch (error) {
      if (!(error instanceof ApiFault)) throw error;
      this.fault = error.message;
    } finally {
      this.isBusy = false;
    }
  }
}
