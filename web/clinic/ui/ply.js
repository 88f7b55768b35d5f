/** What the log says of socks, in ply: the strip of four weeks, the words of an axis, the days of an illness. Pure. */

import { thickness } from '../../shared/thickness.js';
import { dayNumber, fromNumber } from '../when.js';
import { plies } from '../words.js';

const STRIP_DAYS = 28;
const WEEK = 7;
const APART_MM = 0.15;

/** Of a limb's days what the worklist's rows have of the server. */
export function stripOf(lines, asOf, sockets, pads = []) {
  const until = dayNumber(asOf);
  const first = until - STRIP_DAYS + 1;
  const known = lines.filter((line) => line.morning && line.morning.moment !== 'end_of_day' && line.day >= first &&
    line.day <= until);
  const mm = Array.from({ length: STRIP_DAYS },
    (_, i) => known.find((line) => line.day === first + i)?.morning.stack_mm ?? null);
  const worn = sockets.filter((one) => !one.retired_on || one.retired_on > asOf).at(-1);
  // Of another socket, or without a pad in it, the same limb needs other socks: that was no change of the limb.
  const padded = pads.filter((pad) => worn && pad.socket_id === worn.id && pad.on <= asOf)
    .map((pad) => dayNumber(pad.on));
  const since = worn ? Math.max(dayNumber(worn.fitted_on), ...padded) : first;
  const before = known.filter((line) => line.day >= since && line.day < first + WEEK)
    .sort((a, b) => a.morning.stack_mm - b.morning.stack_mm);
  const was = before[Math.floor((before.length - 1) / 2)]?.morning ?? null;
  const now = known.at(-1)?.morning ?? null;
  const other = was && now && known.at(-1).day >= first + WEEK && Math.abs(was.stack_mm - now.stack_mm) >= APART_MM &&
    plies(was.stack) !== plies(now.stack);
  return {
    until: asOf, mm, now: now?.stack ?? null, now_on: known.length ? fromNumber(known.at(-1).day) : null,
    was: other ? was.stack : null,
    socket_on: worn && dayNumber(worn.fitted_on) > first ? worn.fitted_on : null,
    fitted_mm: worn?.stack_at_fitting ? thickness(worn.stack_at_fitting) : null,
  };
}

/** An axis of millimetres in the stacks that were worn: those worn most often, none closer to another than `apart`. */
export function plyTicks(lines, apart) {
  const worn = new Map([['no sock', { value: 0, days: Infinity }]]);
  for (const stack of lines.flatMap(({ morning, evening }) => [morning, evening]).filter(Boolean)) {
    const words = stack.stack.length
      ? plies(stack.stack.some(({ ply }) => ply) ? stack.stack.filter(({ ply }) => ply) : stack.stack, '') : 'no sock';
    const own = worn.get(words) ?? { value: stack.stack_mm, days: 0 };
    worn.set(words, { ...own, days: own.days + 1 });
  }
  const chosen = [];
  for (const [words, { value }] of [...worn].sort(([, a], [, b]) => b.days - a.days)) {
    if (chosen.every((one) => Math.abs(one.value - value) >= apart)) chosen.push({ value, words: short(words) });
  }
  return chosen.sort((a, b) => a.value - b.value);
}

/** "5+5+5+3+1" is longer than the margin beside a chart: how many socks it is. */
const short = (words) => (words.length <= 7 ? words : words.includes('+') ? `${words.split('+').length} socks` : words);

/** The runs of days with a tag, each as a band over them. */
export function bandsOf(lines, tag, more = {}) {
  const found = [];
  for (const line of lines.filter(({ tags }) => tags.includes(tag))) {
    const last = found.at(-1);
    if (last && line.day - last.to < 1.5) last.to = line.day + 0.4;
    else found.push({ from: line.day - 0.4, to: line.day + 0.4, ...more });
  }
  return found;
}
