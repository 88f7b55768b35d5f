/** What the clinic would refuse of a check-in, said on the phone before it is saved: the same limits as in wire/. Pure. */

import { localDate } from './when.js';

export const LIMITS = { hours_worn: [0, 24], weight_kg: [2, 400] };
export const MOST = { note: 1000, skin: 20 };
const DATE = /^(19|2[01])\d\d-\d\d-\d\d$/;

/** A number as people write it: with a comma or a point, in Arabic digits too. null where nothing is written, and
 *  the text itself where it can't be read: it is shown again, and never kept as nothing. */
export function readNumber(text) {
  const plain = text.trim()
    .replace(/[٠-٩]/g, (digit) => digit.charCodeAt(0) - 0x660)
    .replace(/[۰-۹]/g, (digit) => digit.charCodeAt(0) - 0x6f0)
    .replace(/[,٫]/, '.');
  if (plain === '') return null;
  return /^(\d+\.?\d*|\.\d+)$/.test(plain) ? Number(plain) : text;
}

/** [{field, fault}], in the order of the form; `fault` is the key of its words. */
export function faultsOf(checkin, { now, amputated_on = null }) {
  const found = [];
  const { date, note } = checkin;
  if (!DATE.test(date)) found.push({ field: 'date', fault: 'date' });
  else if (date > localDate(now)) found.push({ field: 'date', fault: 'ahead' });
  else if (amputated_on && date < amputated_on) found.push({ field: 'date', fault: 'before' });
  if ((checkin.skin?.length ?? 0) > MOST.skin) found.push({ field: 'skin', fault: 'many' });
  for (const [field, [low, high]] of Object.entries(LIMITS)) {
    const value = checkin[field] ?? null;
    if (value === null) continue;
    if (typeof value !== 'number' || !(low <= value && value <= high)) found.push({ field, fault: field });
  }
  if ((note?.length ?? 0) > MOST.note) found.push({ field: 'note', fault: 'note' });
  return found;
}
