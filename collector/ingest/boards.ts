import type { BoardView } from '../../shared/schema/sensor-book.ts';
import type { Remembered } from '../mapping/remembered.ts';
import { printable } from '../mqtt/printable.ts';

/** A topic that a signal reads, with the signals that do. */
export interface ReadTopic {
  readonly topic: string;
  readonly signals: readonly { readonly name: string; readonly isFresh: boolean }[];
  readonly last: Remembered;
}

/** Last levels of topics on which boards, or the broker for them, say whether they are there. */
const WILL_LEVELS: ReadonlySet<string> = new Set(['status', 'state', 'online', 'availability', 'lwt', 'will', 'connected', 'connection', 'alive', 'presence']);
const SAYS: ReadonlyMap<string, 'online' | 'offline'> = new Map([
  ['online', 'online'],
  ['connected', 'online'],
  ['alive', 'online'],
  ['1', 'online'],
  ['true', 'online'],
  ['offline', 'offline'],
  ['disconnected', 'offline'],
  ['dead', 'offline'],
  ['0', 'offline'],
  ['false', 'offline'],
]);
const LONGEST_WORD = 16;
/** Longest name shown: the longest topic that can be mapped, every character escaped. */
const SHOWN = 5200;

/** The board that a topic is of: all but its last level, or the topic itself when it has one level. */
export const boardOf = (topic: string): string => (topic.includes('/') ? topic.slice(0, topic.lastIndexOf('/')) : topic);

type Will = NonNullable<BoardView['will']>;

/** What a topic says of its board's presence; null when it is no such topic. */
function willOf(topic: string, { head, isCut, lastMs }: Remembered): Will | null {
  if (isCut || head.length > LONGEST_WORD || !WILL_LEVELS.has(topic.slice(topic.lastIndexOf('/') + 1).toLowerCase())) return null;
  const says = SAYS.get(Buffer.from(head).toString('utf8').trim().replace(/^"|"$/g, '').toLowerCase());
  return says === undefined ? null : { topic: printable(topic, SHOWN), says, tMs: Math.round(lastMs) };
}

/**
 * The boards behind the topics that signals read, in the order of their names. Presence is told by the age of the data first and by the last will second: a
 * late will of an earlier connection says nothing against data that come, and a board whose will never came is silent all the same.
 * @param others  topics that no signal reads; wills mostly stand there
 */
export function boardsOf(read: readonly ReadTopic[], others: ReadonlyMap<string, Remembered>): BoardView[] {
  const boards = new Map<string, ReadTopic[]>();
  for (const topic of read) boards.set(boardOf(topic.topic), [...(boards.get(boardOf(topic.topic)) ?? []), topic]);
  /** The board of each topic that one may hang a will under: of the board itself, and of a topic of it. */
  const above = new Map<string, string>([
    ...read.map(({ topic }): [string, string] => [topic, boardOf(topic)]),
    ...[...boards.keys()].map((name): [string, string] => [name, name]),
  ]);
  const wills = new Map<string, Will>();
  for (const [topic, last] of [...read.map((one): [string, Remembered] => [one.topic, one.last]), ...others]) {
    const board = topic.includes('/') ? above.get(boardOf(topic)) : undefined;
    const will = board === undefined ? null : willOf(topic, last);
    if (board !== undefined && will !== null && will.tMs >= (wills.get(board)?.tMs ?? 0)) wills.set(board, will);
  }
  return [...boards].sort(([a], [b]) => (a < b ? -1 : 1)).map(([name, topics]) => boardView(name, topics, wills.get(name) ?? null));
}

function boardView(name: string, topics: readonly ReadTopic[], will: Will | null): BoardView {
  const signals = topics.flatMap((topic) => topic.signals);
  const heard = topics.flatMap(({ last }) => last.liveMs ?? []);
  const isHere = signals.some(({ isFresh }) => isFresh);
  return {
    name: printable(name, SHOWN),
    signals: [...new Set(signals.map((signal) => signal.name))],
    lastMs: heard.length === 0 ? null : Math.round(Math.max(...heard)),
    presence: isHere ? 'here' : will?.says === 'offline' ? 'gone' : heard.length === 0 ? 'never' : 'silent',
    will,
  };
}
