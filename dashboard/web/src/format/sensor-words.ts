import type { z } from 'zod';
import type { Freshness } from '../../../../shared/schema/live.ts';
import type { RejectReason, Remark, SUSPECT_REASONS } from '../../../../shared/schema/reading.ts';
import type { BoardView } from '../../../../shared/schema/sensor-book.ts';

/** What something means in a few words, and what a person can do about it; `todo` is '' where nothing need be done. */
export interface Meaning {
  readonly means: string;
  readonly todo: string;
}
const meaning = (means: string, todo: string): Meaning => ({ means, todo });

/** Why a payload gave no reading. */
export const REJECT_WORDS: Readonly<Record<RejectReason, Meaning>> = {
  empty: meaning('no value', 'The board sends an empty message or "null" while it has nothing to say. If it stays so, check the sensor on it.'),
  'not-a-number': meaning('not a number', 'Look at the payload: is it the right topic, and the right field of it?'),
  'not-finite': meaning('not a finite number', "The board's arithmetic failed, mostly because its sensor did not answer. Check the sensor's wires."),
  'unit-mismatch': meaning('another unit than the rig file says', 'Choose the unit that the payload names.'),
  'too-large': meaning('payload too large', 'Over 16 kB for one reading. Let the board send less, or split its message.'),
  'too-deep': meaning('nested too deep', 'More than 32 levels. Let the board send a plainer message.'),
  'not-utf8': meaning('not UTF-8 text', 'The message is binary or damaged. Let the board send text or JSON.'),
  'bad-json': meaning('not valid JSON', 'Mostly a message that was cut because the board’s buffer is too small, or a number written as nan.'),
  'no-such-field': meaning('the field is not there', 'The board sends another message than it did. Map the signal anew from what it sends now.'),
  'bad-senml': meaning('not a SenML pack', 'Choose JSON or a bare number if the board sends that.'),
  sentinel: meaning('the board\'s sign for "no value"', 'The board says that its sensor does not answer. Check its plug and wires.'),
  'out-of-range': meaning('out of range', 'Impossible for this signal. Check the unit and the field; a single one now and then is a glitch of the sensor.'),
  'sibling-bad': meaning('another value of the same message was bad', 'One chip measures both, so neither is believed. Mend the other one.'),
  duplicate: meaning('sent twice', ''),
  'not-a-mode': meaning('not a known mode', 'Known are off, cool, heat, dry, fan and auto, or yes and no. Let the board send one of these.'),
  'bad-forecast': meaning('not a forecast', 'It needs issuedMs and points with tMs and airTempC; see the description of the rig file.'),
};

/** What was noticed on a payload that was taken all the same. */
export const REMARK_WORDS: Readonly<Record<Remark, Meaning>> = {
  trimmed: meaning('spaces were cut off', ''),
  'time-implausible': meaning("the board's time is not plausible, arrival counts", "Set the board's clock, or let it send no time."),
  'time-without-zone': meaning("the board's time names no zone, arrival counts", 'Let it send its time in UTC, with a Z at the end, or as seconds since 1970.'),
  retained: meaning('kept by the broker from before', 'Shown as last known, never counted as fresh. A sensor needs no retained messages.'),
  'duplicate-key': meaning('a field stands there twice; the last one counts', 'Give the two fields names of their own on the board.'),
  late: meaning('came late, after a newer one', ''),
  'unit-suggested': meaning('a thousandth would fit its range', 'The unit is probably wrong: mV for V, or mA for A.'),
};

/** Why a value is shown but not believed, in the form of a sentence. */
export const SUSPECT_WORDS: Readonly<Record<(typeof SUSPECT_REASONS)[number], Meaning>> = {
  'power-on-value': meaning(
    'It shows what the sensor has before its first measurement.',
    'Wait a minute. If it comes back now and then, the board restarts: look to its supply.',
  ),
  saturated: meaning('Its input clips, so the true value lies beyond.', 'The sensor is too small for what flows, or its gain is set too high.'),
  flat: meaning(
    'It has been exactly zero while power flows elsewhere.',
    'The sensor has probably lost its settings after a dip of its supply. Restart the board.',
  ),
  unit: meaning('It is large in a way that a wrong unit would explain.', 'Check whether the board sends mA or mV, and choose that unit.'),
  sign: meaning(
    'It says charging while the voltage says discharging, or the other way round.',
    'Switch on a large load. If the current then rises instead of falling, turn the sign round.',
  ),
  partial: meaning('One of the topics that it is the sum of is silent.', 'Look which of its boards is silent.'),
  'chip-default': meaning("It is the chip's default value, not a measurement.", 'Restart the board, and check its wires if it comes back.'),
  jump: meaning('It jumped further than it can.', 'A loose wire does that. A single jump does no harm.'),
};

export const FRESHNESS_WORDS: Readonly<Record<z.infer<typeof Freshness>, string>> = {
  fresh: 'fresh',
  silent: 'silent',
  'last-known': 'last known only',
  never: 'nothing yet',
};

/** What to do about a signal that is not fresh. */
export const STALE_WORDS: Readonly<Record<z.infer<typeof Freshness>, string>> = {
  fresh: '',
  silent: 'Nothing has come for three times as long as it should. Is the board powered, and in reach of the network?',
  'last-known': 'Only what the broker had kept, or what was stored before the start. It is fresh with the next message of the board.',
  never: 'No message of its topic has given a value since the start. Is the board on, and is the topic spelt as the board spells it?',
};

export const PRESENCE_WORDS: Readonly<Record<BoardView['presence'], string>> = {
  here: 'here',
  silent: 'silent',
  gone: 'gone',
  never: 'not heard yet',
};

/** What a reason means, whether it is one of suspicion or of rejection; null for one that is not known. */
export function reasonMeaning(reason: string | undefined): Meaning | null {
  const known: Readonly<Record<string, Meaning>> = { ...REJECT_WORDS, ...SUSPECT_WORDS };
  return reason !== undefined && Object.hasOwn(known, reason) ? (known[reason] ?? null) : null;
}
