/** A place of skin over days, worked out of the entries: found once, it is followed until later looks were clear. Pure. */

import { placeCode } from './places.js';

const CLEAR_LOOKS = 2; // as the advice that stands: judgement
const ASKED_DAYS = 30; // after which a phone asks no more by itself; judgement
const UNSAID = 'not_said';

const isThere = ({ course }) => course !== 'gone';

/** What a day says of a place; null where nobody looked at it: at another place alone is not at this one. */
function lookOf(date, said, place) {
  const at = (list) => (list ?? []).filter((one) => placeCode(one.place) === place);
  const found = said.flatMap((one) => at(one.skin));
  const courses = said.flatMap((one) => at(one.healing)).map((one) => one.course);
  const elsewhere = place === UNSAID && said.some((one) => one.skin?.length || one.healing?.some(isThere));
  if (!found.length && !courses.length && (elsewhere || !said.some((one) => one.skin_checked))) return null;
  return {
    date, found, looked: said.some((one) => one.skin_checked), course: courses.at(-1) ?? null, still: found.length > 0 || said.some((one) => at(one.healing).some(isThere)),
    photos: said.filter((one) => at(one.skin).length || at(one.healing).length).flatMap((one) => one.photos ?? []),
  };
}

/** Entries of one limb as they stand → its places that something was found at, each with its looks, oldest first.
 *  With `unsaid` also what was found at a place not said, which no phone asks after.
 */
export function placesOf(entries, { unsaid = false } = {}) {
  const dates = [...new Set(entries.map((one) => one.date))].sort();
  const days = dates.map((date) => [date, entries.filter((one) => one.date === date)]);
  const places = new Set(entries.flatMap((one) => (one.skin ?? []).map((found) => placeCode(found.place))));
  if (!unsaid) places.delete(UNSAID);
  return [...places].map((place) => {
    const looks = days.map(([date, said]) => lookOf(date, said, place)).filter(Boolean);
    return threadOf(place, looks.slice(looks.findIndex((look) => look.found.length)));
  }).sort((a, b) => (a.last < b.last ? 1 : -1));
}

/** `last` the day it was found last, `there` was said to be there last, `clear` whole looks since: not "gone" alone. */
export function threadOf(place, looks) {
  const { date: last, found } = looks.findLast((look) => look.found.length);
  const { date: there } = looks.findLast((look) => look.still);
  const clear = looks.filter((look) => look.date > there && look.looked).length;
  return { place, looks, last, there, found, clear, over: clear >= CLEAR_LOOKS };
}

/** The places a phone asks after on a day: found on an earlier one, and not clear twice since. */
export const askedAfter = (entries, date) =>
  placesOf(entries.filter((one) => one.date < date)).filter((one) => !one.over && new Date(date) - new Date(one.there) <= ASKED_DAYS * 86_400_000);
