/** Phrases that several screens use. */

import { faultsOf, LIMITS, MOST } from '../faults.js';
import { html } from '../../shared/html.js';
import { fromKg } from '../weight.js';
import { daysBetween, middayOf } from '../when.js';
import { dateWords, has, languageNow, number, say } from '../words.js';

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
  const ago = daysBetween(date, today);
  if (ago === 1) return say('day.yesterday', { date: short });
  return ago === 0 ? say('day.today', { date: short }) : short;
}

/** Whom to name instead of "you": to a caregiver the one they care for; to the wearer nobody. */
export const nameOf = (view) => (view.role === 'caregiver' && view.person ? view.person.name.split(' ')[0] : null);

/** Words about the limb: "your limb" to the wearer; to a caregiver the name of whose leg it is. */
export const aboutLimb = (view, own, named) => (nameOf(view) ? say(named, { name: nameOf(view) }) : say(own));

/** The same, where the words for a caregiver stand beside the wearer's, as `<key>.of`. */
export const sayOf = (view, key, fill = {}) => (nameOf(view) && has(`${key}.of`) ? say(`${key}.of`, { ...fill, name: nameOf(view) }) : say(key, fill));

/** How the limb does by the clinic's reading, and where nothing is known of it, why. */
export function trendCode(view, limb) {
  const trend = view.seen[limb.id]?.trend;
  const code = trend?.words_code ?? 'unknown';
  return code === 'unknown' && trend?.why === 'quiet' ? 'quiet' : code;
}

export const limbWords = (limb) => say(`side.${limb.side}`);

export function state(row) {
  if (row.state === 'waiting') return say('state.waiting');
  if (row.state === 'refused') return say('state.refused');
  return say('state.kept');
}

/** Where everything on this phone stands, calm when there is no network. */
export function standingWords(view) {
  const { waiting, refused, stuck } = view.outbox;
  const parts = [];
  if (refused) parts.push(say('outbox.refused', { n: refused }));
  if (waiting) parts.push(say('outbox.waiting', { n: waiting }));
  if (waiting && view.reached === false) parts.push(say('outbox.no_network'));
  if (stuck) parts.push(say('outbox.stuck', { n: stuck }));
  if (!waiting && !refused && !stuck && view.anyRows) parts.push(say('outbox.all'));
  return parts.join(' ');
}

const stemOf = (field) => field.split(/[.[]/)[0];

const fieldWords = (field) => (has(`field.${field}`) ? say(`field.${field}`) : field);

/** What is wrong with a field, as the phone itself sees it. */
export function faultWords({ field, fault }, { limb, unit = 'kg' } = {}) {
  const [low, high] = (LIMITS[field] ?? []).map((limit) => number(field === 'weight_kg' ? fromKg(limit, unit) : limit));
  const date = limb?.amputated_on ? dateWords(middayOf(limb.amputated_on), { day: 'numeric', month: 'long', year: 'numeric' }) : '';
  return say(`fault.${fault}`, { low, high, unit, date, n: MOST[field] });
}

/** Why the clinic could not take an entry: [{field, name, why}], in the wearer's words where we have them. */
export function reasons(row, view) {
  const faults = faultsOf(row.checkin, { now: view.now, amputated_on: view.limb?.amputated_on });
  const known = Object.entries(row.errors ?? {}).map(([path, messages]) => {
    const field = stemOf(path);
    const fault = faults.find((one) => one.field === field);
    // The clinic's computer gives its reasons in English.
    const why = fault ? faultWords(fault, view) : languageNow() === 'en' ? messages.join(' ') : say('refused.check');
    return { field, name: fieldWords(field), why };
  });
  return known.length ? known : [{ field: null, name: null, why: say('refused.unknown') }];
}

/** The clinic could not take it; what it heard of it all the same. */
export const refusedLead = (row) => html`<p>${say('refused.lead')}</p>${row.danger ? html`<p><strong>${say('refused.heard')}</strong></p>` : ''}`;

export const reasonLine = ({ name, why }) => html`<p>${name ? say('refused.why', { field: name, why }) : why}</p>`;

/** The step or the part of the review in which a field is answered. */
export const stepOf = (field) => STEP_OF[field] ?? null;

const STEP_OF = { left_off: 'skin', stack: 'socks', prefilled: 'socks', fit: 'fit', comfort: 'comfort', skin: 'skin', skin_checked: 'skin', signs: 'skin', photos: 'skin', healing: 'skin' };

/** Straight to the field that must be mended. */
export function fixKey(row, view, { kind = 'primary', id = `fix-${row.id}` } = {}) {
  const { field, name } = reasons(row, view)[0];
  return html`<button class="${kind}" id="${id}" data-do="entry.fix" data-arg="${row.id}" data-field="${field ?? ''}" data-step="${stepOf(field) ?? ''}">${
    name ? say('fix.key', { field: name }) : say('entry.mend')}</button>`;
}
