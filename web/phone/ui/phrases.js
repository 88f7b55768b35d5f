/** Phrases that several screens use. */

import { daysBetween, middayOf } from '../when.js';
import { dateWords, has, languageNow, say } from '../words.js';

/** "Today, Tuesday 24 November": a date a person would say. */
export function dayWords(date, today) {
  const long = dateWords(middayOf(date), { weekday: 'long', day: 'numeric', month: 'long' });
  const ago = daysBetween(date, today);
  if (ago === 0) return say('day.today', { date: long });
  if (ago === 1) return say('day.yesterday', { date: long });
  if (ago === -1) return say('day.tomorrow', { date: long });
  return long;
}

/** "Today", "Yesterday", or the date: where the whole date stands beside it already. */
export function justDay(date, today) {
  const ago = daysBetween(date, today);
  return ago === 0 || ago === 1 ? say(`day.just.${ago}`) : shortDay(date, today);
}

/** The same, short enough for one line. */
export function shortDay(date, today) {
  const short = dateWords(middayOf(date), { weekday: 'short', day: 'numeric', month: 'short' });
  return daysBetween(date, today) === 0 ? say('day.today', { date: short }) : short;
}

export const limbWords = (limb) => say(`side.${limb.side}`);

export function state(row) {
  if (row.state === 'waiting') return say('state.waiting');
  if (row.state === 'refused') return say('state.refused');
  return say('state.kept');
}

/** Where everything on this phone stands, calm when there is no network. */
export function standingWords(view) {
  const { waiting, refused } = view.outbox;
  const parts = [];
  if (refused) parts.push(say('outbox.refused', { n: refused }));
  if (waiting) parts.push(say('outbox.waiting', { n: waiting }));
  if (waiting && view.reached === false) parts.push(say('outbox.no_network'));
  if (!waiting && !refused && view.anyRows) parts.push(say('outbox.all'));
  return parts.join(' ');
}

/** Why the clinic could not take an entry, in the wearer's words where we have them. */
export function reasons(errors) {
  const known = Object.entries(errors ?? {}).map(([field, messages]) => {
    const stem = field.split(/[.[]/)[0];
    const name = has(`field.${stem}`) ? say(`field.${stem}`) : stem;
    // The clinic's computer gives its reasons in English.
    return say('refused.why', { field: name, why: languageNow() === 'en' ? messages.join(' ') : say('refused.check') });
  });
  return known.length ? known : [say('refused.unknown')];
}
