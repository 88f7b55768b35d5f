/** When somebody could come next, by the clinic's hours, its chairs and what is booked. Pure. */

import { dayNumber, later } from './when.js';

const STEP = 30; // minutes between the times that are offered
const USUAL = [{ days: [1, 2, 3, 4, 5], from: '09:00', to: '17:00' }]; // where the clinic has said no hours; judgement

export const minutesOf = (time) => Number(time.slice(0, 2)) * 60 + Number(time.slice(3));
export const timeOf = (minutes) => `${String(Math.floor(minutes / 60) % 24).padStart(2, '0')}:${String(minutes % 60).padStart(2, '0')}`;

/** Monday is 1. */
export const weekdayOf = (date) => ((dayNumber(date) + 3) % 7) + 1;

const standsOf = (visits) => visits.filter((one) => !one.cancelled && one.outcome === null);

/** The first `count` times from tomorrow on that are free, at most one a day of the morning and one of the
 *  afternoon. */
export function freeTimes({ today, hours, closed_on: closed, chairs, visits, usual_minutes: usual, to }, minutes,
  count = 4) {
  const found = [];
  const open = hours.length ? hours : USUAL;
  for (let date = later(today, 1); date <= to && found.length < count; date = later(date, 1)) {
    if (closed.includes(date)) continue;
    const there = standsOf(visits).filter((one) => one.on === date && one.time);
    const taken = (at) => there.filter((one) => minutesOf(one.time) < at + minutes && at < minutesOf(one.time) +
      (one.minutes ?? usual)).length;
    const spans = open.filter((one) => one.days.includes(weekdayOf(date)));
    const times = spans.flatMap(({ from, to: until }) => steps(minutesOf(from), minutesOf(until) - minutes))
      .filter((at) => taken(at) < Math.max(chairs.length, 1));
    const halves = [times.find((at) => at < 720), times.find((at) => at >= 720)].filter((at) => at !== undefined);
    found.push(...halves.map((at) => ({ on: date, time: timeOf(at) })));
  }
  return found.slice(0, count);
}

const steps = (from, last) =>
  Array.from({ length: Math.max(0, Math.floor((last - from) / STEP) + 1) }, (_, n) => from + n * STEP);
