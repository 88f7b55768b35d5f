/** Until when a signal may be put off. Pure. */

import { daysBetween, later } from './when.js';

const EMERGENCY_DAYS = 7; // as the server has it: an emergency is looked at anew every week

/** The last day the server takes, or null where there is none. */
export const latestFor = (signal, today) => (signal.rule?.startsWith('emergency-') ? later(today, EMERGENCY_DAYS) : null);

/** The days that are offered, [date, words]. */
export function choicesFor(signal, today, nextVisit) {
  const latest = latestFor(signal, today);
  const choices = [[1, 'tomorrow'], [3, 'in three days'], [7, 'in a week'], [14, 'in two weeks']].map(([days, words]) => [later(today, days), words]);
  if (nextVisit && daysBetween(today, nextVisit) > 0) choices.push([nextVisit, 'at the next visit']);
  return choices.filter(([date]) => latest === null || date <= latest);
}
