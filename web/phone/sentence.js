/** One sentence about the days, and a week's figures: only what the entries themselves say, or nothing. Pure.
 *
 *  How many days it takes to say something is judgement. It praises no day with a sign or a finding, and gives
 *  no reason to wear other socks: it speaks of socks only when they are the ones that are on.
 */

import { byDay } from './waterline.js';
import { daysBetween, plusDays } from './when.js';

const RUN = 3; // days in a row
const LOOKS = 5; // looks at the skin in a row
const OTHERS = 5; // days to be the best of
const GOOD = 6; // of ten: the best of bad days is nothing to praise
const APART = 1; // points of comfort between socks, each worn on RUN days
const WINDOW = 28;

const keyOf = (stack) => stack.map((sock) => `${sock.ply} ${sock.make}`).join(', ');

/** What the words of a stack say of it, in any order: its plies. */
const pliesOf = (key) => key.split(', ').map((sock) => sock.split(' ')[0]).sort().join(' ');

const mean = (numbers) => numbers.reduce((sum, n) => sum + n, 0) / numbers.length;

/** A day as all its entries have it: the socks if they were the same in each, and its comfort from the least to the most. */
function dayOf([date, rows]) {
  const said = rows.map((row) => row.checkin);
  const worn = new Set(said.map((one) => keyOf(one.stack)));
  const felt = said.map((one) => one.comfort);
  const found = said.some((one) => one.skin?.length || one.signs?.length);
  return { date, worn, stack: worn.size === 1 ? said[0].stack : null, low: Math.min(...felt), high: Math.max(...felt), found, fine: !found && said.every((one) => one.skin_checked) };
}

/** How many days in a row, the last one among them, are so. */
function run(days, is) {
  const end = days.findIndex((day, i) => !is(day) || (i > 0 && daysBetween(day.date, days[i - 1].date) !== 1));
  return end < 0 ? days.length : end;
}

const lately = (rows, today) => [...byDay(rows.filter((row) => row.state !== 'refused'))].map(dayOf).filter((day) => day.date <= today);

/** Socks with the clearly best days of their socket, if they are the ones that are on: days better than each one in
 *  other socks, and none with a finding or a sign.
 */
function best(days, { stack }, fitted) {
  const here = days.filter((one) => !fitted || one.date >= fitted);
  const key = keyOf(stack);
  const own = here.filter((one) => one.worn.has(key));
  const others = here.filter((one) => !one.stack || keyOf(one.stack) !== key);
  if (own.some((one) => one.found || !one.stack)) return false;
  if (others.some((one) => [...one.worn].some((stack) => pliesOf(stack) === pliesOf(key)))) return false; // its words would be theirs
  const groups = new Map();
  for (const day of others.filter((one) => one.stack)) groups.set(keyOf(day.stack), [...(groups.get(keyOf(day.stack)) ?? []), day.low]);
  const worn = [...groups.values()].filter((felt) => felt.length >= RUN);
  const most = Math.max(...others.map((one) => one.high));
  return worn.length > 0 && own.filter((one) => one.low > most).length >= RUN && worn.every((felt) => mean(own.map((one) => one.low)) - mean(felt) >= APART);
}

/** { key, n, stack } of what may be said on the day of an entry, or null. `fitted`: since when the socket is worn;
 *  `whole`: whether all that was written is here.
 */
export function sentenceOf(rows, { today, fitted = null, whole = true }) {
  const all = lately(rows, today);
  const [day] = all;
  if (!whole || day?.date !== today || day.found) return null;
  const days = all.filter((one) => daysBetween(one.date, today) < WINDOW);
  const socks = day.stack?.length ? day.stack : null;
  if (days.length > OTHERS && day.high >= GOOD && days.slice(1).every((one) => one.high < day.low)) return { key: 'best', n: day.high };
  if (socks && best(days, day, fitted)) return { key: 'stack', stack: socks };
  const same = socks ? run(all, (one) => one.stack && keyOf(one.stack) === keyOf(socks)) : 0;
  if (same >= RUN) return { key: 'socks', n: same, stack: socks };
  const fine = run(all, (one) => one.fine);
  if (fine >= LOOKS) return { key: 'skin', n: fine };
  const written = run(all, () => true);
  if (written >= RUN) return { key: 'days', n: written };
  return rows.every((row) => row.checkin.date === today) ? { key: 'first' } : null;
}

/** The seven days up to today, oldest first, and what they have in common; `socks` are those of more than half of seven. */
export function weekOf(rows, today) {
  const days = lately(rows, today).filter((day) => daysBetween(day.date, today) < 7);
  const dates = Array.from({ length: 7 }, (_, i) => plusDays(today, i - 6));
  const socks = days.find((day) => day.stack?.length && days.filter((one) => one.stack && keyOf(one.stack) === keyOf(day.stack)).length > 3);
  return {
    days: dates.map((date) => ({ date, on: days.some((day) => day.date === date) })),
    n: days.length, low: Math.min(...days.map((day) => day.low)), high: Math.max(...days.map((day) => day.high)), socks: socks?.stack ?? null,
  };
}
