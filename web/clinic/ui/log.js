/** From the log as it was kept to what is drawn: by day, with corrections in place. Pure. */

import { dayNumber } from '../when.js';

const SEVERE = new Set(['blister', 'open_skin', 'discharge', 'spreading_redness', 'colour_change', 'numbness']);

export const isSevere = (finding) => SEVERE.has(finding);

/** What counts of a day: not replaced, not taken back; in the order of the day. */
export function counted(day) {
  const order = { putting_on: 0, during: 1, end_of_day: 2 };
  return day.checkins.filter((one) => !one.replaced_by && !one.withdrawn)
    .sort((a, b) => (a.time ?? '').localeCompare(b.time ?? '') || order[a.moment] - order[b.moment] || a.seq - b.seq);
}

/** One line per logged day, oldest first: stack in mm morning and evening, the lowest comfort, skin, hours, falls,
 *  weight. */
export function byDay(days) {
  return [...days].reverse().map((day) => {
    const said = counted(day);
    const morning = said.find((one) => one.moment === 'putting_on') ?? said.find((one) => one.moment !== 'end_of_day');
    const evening = said.filter((one) => one.moment === 'end_of_day').at(-1);
    const comforts = said.map((one) => one.comfort);
    return {
      date: day.date, day: dayNumber(day.date), said, morning, evening,
      comfort: comforts.length ? Math.min(...comforts) : null,
      pain: most(said.map((one) => one.pain)),
      skin: said.flatMap((one) => one.skin),
      looked: said.some((one) => one.skin_checked || one.skin.length),
      hours: most(said.map((one) => one.hours_worn)),
      falls: most(said.map((one) => one.falls)),
      weight: said.map((one) => one.weight_kg).filter(Boolean).at(-1) ?? null,
      signs: [...new Set(said.flatMap((one) => one.signs))],
      tags: [...new Set(said.flatMap((one) => one.tags))],
      notes: said.map((one) => one.note).filter(Boolean),
    };
  }).filter((line) => line.said.length);
}

function most(values) {
  const known = values.filter((value) => value !== null && value !== undefined);
  return known.length ? Math.max(...known) : null;
}
