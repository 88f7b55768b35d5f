/** The last weeks of one limb as a line: what the picture draws and its table says, from kept entries alone. Pure. */

import { thickness } from '../shared/thickness.js';
import { daysBetween, plusDays } from './when.js';

export const BACK = 27; // days before today: four weeks with it
export const AHEAD = 6; // days after today, still empty: a visit that comes has its place

/** The entries of each day under its date; the last of a day first, as rows come. */
export function byDay(rows) {
  const days = new Map();
  for (const row of rows) days.set(row.checkin.date, [...(days.get(row.checkin.date) ?? []), row]);
  return days;
}

/** Of two entries of one day the line takes the last, and what was found on the skin in either. */
function daysOf(rows, placed) {
  return [...byDay(rows)]
    .map(([date, [last, ...rest]]) => ({
      date, at: placed(date), stack: last.checkin.stack, mm: thickness(last.checkin.stack), comfort: last.checkin.comfort,
      found: [last, ...rest].flatMap((row) => row.checkin.skin ?? []),
    }))
    .filter(({ at }) => at >= 0 && at <= BACK)
    .sort((a, b) => a.at - b.at);
}

/** Rims of sockets, each from the day it was fitted; what was written before the first known one has a rim too. */
function rimsOf(sockets, days, placed) {
  const fitted = [...new Set(sockets.map((socket) => placed(socket.fitted_on)))].filter((at) => at <= BACK).sort((a, b) => a - b);
  const before = !fitted.length || fitted[0] <= 0 || days.some((day) => day.at < fitted[0]);
  const from = [...(before ? [0] : []), ...fitted.filter((at) => at > 0)];
  return from.map((at, i) => ({ from: at, to: from[i + 1] ?? BACK + AHEAD + 1, fresh: at > 0 }));
}

/** `at` counts days from the left end; `gap` is the number of days missing before a day in the same socket. */
export function waterline(rows, { today, sockets = [], visits = [] }) {
  const placed = (date) => BACK - daysBetween(date, today);
  const found = daysOf(rows, placed);
  const rims = rimsOf(sockets, found, placed);
  const rimOf = (at) => rims.findLastIndex((rim) => rim.from <= at);
  const days = found.map((day, i) => {
    const rim = rimOf(day.at);
    const before = i && rimOf(found[i - 1].at) === rim ? found[i - 1] : null;
    return { ...day, rim, gap: before ? day.at - before.at - 1 : null };
  });
  const coming = visits.filter((visit) => !visit.cancelled && visit.outcome !== 'missed').map((visit) => placed(visit.on));
  const flags = [...new Set(coming)].filter((at) => at >= 0 && at <= BACK + AHEAD).sort((a, b) => a - b);
  return { days, rims, flags };
}

export const dateAt = (at, today) => plusDays(today, at - BACK);
