/** A place of skin at the clinic: a thread is done when later looks were clear and somebody here wrote that it healed. Pure. */

import { placesOf, threadOf } from '../shared/healing.js';
import { placeCode } from '../shared/places.js';

/** The days on which a place healed by the clinic's record, unless it was opened again. */
function closings(events, place) {
  const standing = [];
  for (const one of events.filter((each) => placeCode(each.place) === place)) {
    if (one.what === 'healed') standing.push(one);
    if (one.what === 'open') standing.pop();
  }
  return standing;
}

/** Found again after it healed, it is another thread. Each with its sizes, and the clinic's word that it healed. */
export function threadsOf(entries, events) {
  return placesOf(entries).flatMap(({ place, looks }) => {
    const closed = closings(events, place);
    const parts = [];
    for (const look of looks) {
      const last = parts.at(-1)?.findLast((one) => one.found.length).date;
      if (look.found.length && (!last || closed.some((one) => one.on >= last && one.on < look.date))) parts.push([look]);
      else parts.at(-1).push(look);
    }
    return parts.map((part, i) => {
      const thread = threadOf(place, part);
      const until = parts[i + 1]?.[0].date ?? '9999';
      const from = i ? part[0].date : '';
      const sizes = events.filter((one) => one.what === 'size' && placeCode(one.place) === place && one.on >= from && one.on < until);
      const healed = closed.findLast((one) => one.on >= thread.last && one.on < until) ?? null;
      return { ...thread, sizes, healed, done: thread.over && healed !== null, latest: i === parts.length - 1 };
    });
  }).sort((a, b) => a.done - b.done || (a.last < b.last ? 1 : -1));
}
