/** A place of skin at the clinic: a thread is done when later looks were clear and somebody here wrote that it
 *  healed. Pure. */

import { placesOf, threadOf } from '../shared/healing.js';
import { placeCode } from '../shared/places.js';

/** The days on which a place healed by the clinic's record. "Open" takes back each word since it was there last. */
function closings(events, looks) {
  let standing = [];
  for (const one of events) {
    if (one.what === 'healed') standing.push(one);
    if (one.what !== 'open' || !standing.length) continue;
    const newest = standing.map((each) => each.on).sort().at(-1);
    standing = standing.filter((each) =>
      looks.some((look) => look.still && look.date > each.on && look.date <= newest));
  }
  return standing.sort((a, b) => (a.on < b.on ? -1 : 1));
}

const byThread = (a, b) => a.done - b.done || ((a.last ?? '') < (b.last ?? '') ? 1 : -1);

/** Found again after it healed, it is another thread. Each with its records: sizes, and the clinic's word that it
 *  healed.
 *  What was written of a place that no entry names any more stands too, with no looks.
 */
export function threadsOf(entries, events) {
  const at = (place) => events.filter((each) => placeCode(each.place) === place);
  const found = placesOf(entries, { unsaid: true });
  const lost = [...new Set(events.map((one) => placeCode(one.place)))].filter((place) =>
    !found.some((one) => one.place === place));
  const alone = lost.map((place) => {
    const sizes = at(place).filter((one) => one.what === 'size');
    return { place, looks: [], last: null, found: [], clear: 0, sizes, healed: null,
      records: [...sizes, ...closings(at(place), [])], done: false, latest: false };
  }).filter((one) => one.records.length);
  return [...alone, ...found.flatMap(({ place, looks }) => {
    const closed = closings(at(place), looks);
    const parts = [];
    for (const look of looks) {
      const last = parts.at(-1)?.findLast((one) => one.found.length).date;
      if (look.found.length &&
        (!last || closed.some((one) => one.on >= last && one.on < look.date))) parts.push([look]);
      else parts.at(-1).push(look);
    }
    return parts.map((part, i) => {
      const thread = threadOf(place, part);
      const until = parts[i + 1]?.[0].date ?? '9999';
      const from = i ? part[0].date : '';
      const within = (one) => one.on >= from && one.on < until;
      const sizes = at(place).filter((one) => one.what === 'size' && within(one));
      const own = closed.filter(within);
      const healed = own.findLast((one) => one.on >= thread.there) ?? null;
      return { ...thread, sizes, healed, records: [...sizes, ...own], done: thread.over && healed !== null,
        latest: i === parts.length - 1 };
    });
  })].sort(byThread);
}
