/** A place of skin over days, out of the entries: followed until later looks were clear. Pure. */

import { placeCode } from './places.js';

const CLEAR_LOOKS = 2; // as the advice that stands: judgement
const ASKED_DAYS = 30; // a phone asks no longer: judgement
const UNSAID = 'not_said';

const isThere = ({ course }) => course !== 'gone';

/** What a day says of a place; null where nobody looked at it. */
function lookOf(said, place) {
  const of = (name) => said.flatMap((one) => one[name] ?? []);
  const at = (list) => (list ?? []).filter((one) => placeCode(one.place) === place);
  const found = at(of('skin'));
  const courses = at(of('healing'));
  const looked = said.some((one) => one.skin_checked);
  // What is elsewhere may be what was found at a place not said.
  const elsewhere = place === UNSAID && (of('skin').length || of('healing').some(isThere));
  if (!found.length && !courses.length && (elsewhere || !looked)) return null;
  return {
    date: said[0].date, found, looked, course: courses.at(-1)?.course ?? null, still: found.length > 0 || courses.some(isThere),
    // Any other photo may be of anything.
    photos: said.filter((one) => at(one.skin).length || at(one.healing).length).flatMap((one) => one.photos ?? []),
  };
}

/** Entries of one limb as they stand → its places with a finding, each with its looks, oldest first. */
export function placesOf(entries, { unsaid = false } = {}) {
  const days = [...new Set(entries.map((one) => one.date))].sort().map((date) => entries.filter((one) => one.date === date));
  const places = new Set(entries.flatMap((one) => one.skin ?? []).map((one) => placeCode(one.place)));
  if (!unsaid) places.delete(UNSAID);
  return [...places].map((place) => {
    const looks = days.map((said) => lookOf(said, place)).filter(Boolean);
    return threadOf(place, looks.slice(looks.findIndex((look) => look.found.length)));
  }).sort((a, b) => (a.last < b.last ? 1 : -1));
}

/** `last` it was found, `there` it was said to be there; `clear` are whole looks since: "gone" alone is none. */
export function threadOf(place, looks) {
  const { date: last, found } = looks.findLast((look) => look.found.length);
  const { date: there } = looks.findLast((look) => look.still);
  const clear = looks.filter((look) => look.date > there && look.looked).length;
  return { place, looks, last, there, found, clear, over: clear >= CLEAR_LOOKS };
}

/** The places a phone asks after on a day: found on an earlier one, and not clear twice since. */
export const askedAfter = (entries, date) =>
  placesOf(entries.filter((one) => one.date < date)).filter((one) => !one.over && new Date(date) - new Date(one.there) <= ASKED_DAYS * 86_400_000);
