/** What was tapped of a danger in an entry that was begun and not saved: the clinic hears of it all the same. Pure.
 *
 *  It goes out when the wearer stops: the app is hidden, or nothing was tapped for a while. It has no socks, so it is
 *  never an entry; the one that is saved later has the same id and takes its place. A danger un-ticked before that is
 *  never sent; one un-ticked later, or thrown away, is taken back.
 */

import { checkinOf } from './checkin.js';

export const PAUSE = 120_000; // judgement: long enough to think again, short enough to be of use

const STEM = 'begun:';
export const begunKey = (id) => `${STEM}${id}`;
export const isBegunKey = (key) => String(key).startsWith(STEM);

const TOLD = ['limb_id', 'date', 'time', 'offset', 'moment', 'signs', 'signs_checked', 'skin', 'falls', 'written_at', 'written_by'];
const DANGER = ['date', 'signs', 'skin', 'falls', 'pain', 'comfort'];

function itemOf(draft, { id, now, device_id }) {
  const said = checkinOf(draft, { id, now, device_id });
  const item = { id, ...Object.fromEntries(TOLD.map((name) => [name, said[name]])) };
  for (const name of ['pain', 'comfort']) if (Number.isInteger(said[name])) item[name] = said[name];
  if (typeof said.weight_kg === 'number') item.weight_kg = said.weight_kg;
  return item;
}

const same = (a, b) => DANGER.every((name) => JSON.stringify(a[name] ?? null) === JSON.stringify(b[name] ?? null));

/** What is to be sent of a draft that is left, as a row {id, limb_id, item, sent}; null where nothing is new.
 *  `fired`: ids of the rules that fire for it; `known`: those that fired for the entry it corrects; `before`: the row
 *  as it was last sent or is waiting.
 */
export function begunOf(draft, { id, now, device_id, fired, known = [], before = null }) {
  const item = itemOf(draft, { id, now, device_id });
  const news = fired.some((rule) => !known.includes(rule));
  if (!news && !before) return null;
  if (before && same(before.item, item)) return null;
  return { id, limb_id: draft.limb_id, account: device_id, item, sent: false };
}

/** The row that takes back what was sent of a draft that is thrown away; null where nothing had left the phone. */
export const takenBack = (row, now) =>
  row?.sent ? { ...row, sent: false, over: true, item: { id: row.id, limb_id: row.limb_id, date: row.item.date, written_at: now.toISOString() } } : null;
