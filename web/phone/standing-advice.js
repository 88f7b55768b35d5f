/** Advice that still stands on the first page: worked out of the entries as they are kept, never of a flag. Pure.
 *
 *  It stands until two later days were clear, or until the clinic closed it. A clear day is one with an entry whose
 *  skin was looked at with nothing found and whose signs of danger were asked with none there, and without an entry
 *  that says otherwise. Two of them: judgement; a spot that opens again does so within days.
 */

import { daysBetween } from './when.js';

const CLEAR_DAYS = 2;
const LEVELS = ['emergency', 'stop_wear', 'heart_team', 'call_clinic'];
const ANSWER_DAYS = 7; // judgement: how long an answer is shown after what it answers is over

export const byUrgency = (a, b) => LEVELS.indexOf(a.level) - LEVELS.indexOf(b.level);

/** An app that did not ask for the signs yet can't have had an answer: before the first day they were asked, skin alone counts. */
const firstAsked = (rows) => rows.reduce((first, { checkin }) => (checkin.signs_checked && checkin.date < first ? checkin.date : first), '9999-12-31');

function isClear(row, fired, danger, since) {
  const { checkin } = row;
  const asked = checkin.signs_checked || checkin.date < since;
  const spoken = checkin.skin?.length || checkin.signs?.some((sign) => danger.includes(sign));
  return row.state !== 'refused' && checkin.skin_checked && asked && !spoken && !fired.length;
}

/** Entries of one limb as they stand → what still holds, most urgent first, each rule once.
 *  `back(row)`: whether a later weight ended the fast gain it tells of; without it days end that too.
 *  `advise(row)`: the rules that fire for it. `seen`: what the clinic did about signals, newest first.
 */
export function standingAdvice(rows, { advise, seen = [], danger = [], back = null }) {
  const since = firstAsked(rows);
  const found = new Map();
  let clearDays = 0; // days later than the one that is looked at
  for (const day of byDay(rows)) {
    const over = clearDays >= CLEAR_DAYS;
    if (over && !back) break;
    // Clear days end all but a fast gain of weight: that one ends with a weight that is back, or by the clinic.
    const rest = over ? day.filter((row) => typeof row.checkin.weight_kg === 'number') : day;
    const said = rest.map((row) => [row, over ? advise(row).filter((one) => one.level === 'heart_team' && !back(row)) : advise(row)]);
    for (const [row, fired] of said) {
      for (const advice of fired) {
        const clinic = doneBy(seen, advice.id, row);
        if (clinic?.status !== 'closed' && !found.has(advice.id)) found.set(advice.id, { ...advice, row, clinic });
      }
    }
    const spoken = said.some(([row, fired]) => fired.length || row.checkin.skin?.length);
    if (!spoken && said.some(([row, fired]) => isClear(row, fired, danger, since))) clearDays += 1;
  }
  return [...found.values()].sort(byUrgency);
}

/** The entries of each day, newest day first. */
function byDay(rows) {
  const days = new Map();
  for (const row of rows) days.set(row.checkin.date, [...(days.get(row.checkin.date) ?? []), row]);
  return [...days].sort(([a], [b]) => (a < b ? 1 : -1)).map(([, day]) => day);
}

/** What the clinic did about this rule for this entry, or for what it corrected. */
export const doneBy = (seen, rule, row) =>
  seen.find((one) => one.rule === rule && one.checkins?.some((id) => (row.line ?? [row.id]).includes(id))) ?? null;

/** Answers of the clinic that no card shows any more, for a week. */
export const latestAnswers = (seen, standing, today) =>
  seen.filter((one) => one.answer && one.on && daysBetween(one.on, today) <= ANSWER_DAYS && !standing.some((advice) => advice.clinic === one))
    .filter((one, i, all) => all.findIndex((other) => other.answer === one.answer && other.on === one.on) === i);
