/** A place of skin over days, worked out of the entries: found once, it is followed until later looks were clear. Pure. */

import { placeCode } from './places.js';

const CLEAR_LOOKS = 2; // as the advice that stands: judgement
const ASKED_DAYS = 30; // after which a phone asks no more by itself; judgement

/** What a day says of a place; null where nobody looked. */
function lookOf(date, said, place) {
  const at = (list) => (list ?? []).filter((one) => placeCode(one.place) === place);
  if (!said.some((one) => one.skin_checked || one.skin?.length)) return null;
  return {
    date, found: said.flatMap((one) => at(one.skin)), course: said.flatMap((one) => at(one.healing)).at(-1)?.course ?? null,
    // A photo without a finding may be of anything, unless somebody said that this place is gone.
    photos: said.filter((one) => at(one.skin).length || at(one.healing).length).flatMap((one) => one.photos ?? []),
  };
}

/** Entries of one limb as they stand → its places that something was found at, each with its looks, oldest first. */
export function placesOf(entries) {
  const dates = [...new Set(entries.map((one) => one.date))].sort();
  const days = dates.map((date) => [date, entries.filter((one) => one.date === date)]);
  const places = new Set(entries.flatMap((one) => (one.skin ?? []).map((found) => placeCode(found.place))));
  places.delete('not_said');
  return [...places].map((place) => {
    const looks = days.map(([date, said]) => lookOf(date, said, place)).filter(Boolean);
    return threadOf(place, looks.slice(looks.findIndex((look) => look.found.length)));
  }).sort((a, b) => (a.last < b.last ? 1 : -1));
}

/** From the first finding on: `last` the day it was found last, `clear` how many looks since then found nothing. */
export function threadOf(place, looks) {
  const { date: last, found } = looks.findLast((look) => look.found.length);
  const clear = looks.filter((look) => look.date > last).length;
  return { place, looks, last, found, clear, over: clear >= CLEAR_LOOKS };
}

/** The places a phone asks after on a day: found on an earlier one, and not clear twice since. */
export const askedAfter = (entries, date) =>
  placesOf(entries.filter((one) => one.date < date)).filter((one) => !one.over && new Date(date) - new Date(one.last) <= ASKED_DAYS * 86_400_000);
