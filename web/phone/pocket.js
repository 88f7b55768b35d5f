/** The plan the clinic wrote for this phone: what of it may be shown, and hours worn against its schedule. Pure. */

import { localDate } from './when.js';

/** Where advice stands, or the rules are not there to say whether it does, no word to act on stands beside it. */
export const mayAct = ({ rules, advice, standing, person }) =>
  Boolean(rules) && !advice.length && person.limbs.every((limb) => !standing[limb.id]?.length);

/** What was planned by hours is shown with what was kept of it: minutes worn today, since when, and until when. */
export function wornOf(kept, now, hours = null) {
  const on = Boolean(kept?.since);
  const before = kept && (on || kept.day === localDate(now)) ? kept.minutes : 0;
  const minutes = before + (on ? Math.max(0, Math.round((now - new Date(kept.since)) / 60_000)) : 0);
  const left = hours === null ? null : Math.round(hours * 60) - minutes;
  return { on, minutes, since: on ? new Date(kept.since) : null, over: left !== null && left <= 0, until: on && left > 0 ? new Date(now.getTime() + left * 60_000) : null };
}

/** The record after it was put on or taken off. What is worn past midnight counts for the day it was put on. */
export function turned(kept, now) {
  const { on, minutes } = wornOf(kept, now);
  return on ? { day: kept.day, minutes, since: null } : { day: localDate(now), minutes, since: now.toISOString() };
}
