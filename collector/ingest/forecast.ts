import type { RejectReason } from '../../shared/schema/reading.ts';
import { Forecast, type Message } from '../../shared/schema/reading.ts';
import { isPlausible } from '../mqtt/device-time.ts';
import { MAX_FORECAST_BYTES, openPayload } from '../mqtt/payload.ts';
import { parsePointer, resolvePointer } from '../mqtt/pointer.ts';

/** A forecast message (at most 64 KiB) to its checked content, or why there is none. Issued in the future or before 2024, it is no forecast. Cannot throw. */
export function decodeForecast(message: Message, pointer: string | undefined): Forecast | RejectReason {
  const opened = openPayload(message.payload, MAX_FORECAST_BYTES);
  if (opened.reason !== null) return opened.reason;
  const json = opened.json();
  if (!json.ok) return json.reason;
  const found = resolvePointer(json.value, parsePointer(pointer ?? '') ?? []);
  if (found === undefined) return 'no-such-field';
  const parsed = Forecast.safeParse(found);
  return parsed.success && isPlausible(parsed.data.issuedMs, message.tMs) ? parsed.data : 'bad-forecast';
}
