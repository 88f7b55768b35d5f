/** What the fixed safety rules say, with the number to call. Level in words and shape, not in colour alone. */

import { html } from '../../shared/html.js';
import { contactOf, waysFor } from '../contact.js';
import { doneBy } from '../standing-advice.js';
import { middayOf } from '../when.js';
import { dateWords, has, languageNow, say } from '../words.js';
import { justDay, nameOf, sayOf } from './phrases.js';

const bang = html`<svg class="sign" viewBox="0 0 24 24" aria-hidden="true"><circle cx="12" cy="12" r="11"/><path class="on" d="M11 6h2v8h-2zM11 16h2v2h-2z"/></svg>`;

const SHAPES = {
  emergency: html`<svg class="sign" viewBox="0 0 24 24" aria-hidden="true"><path d="M12 2 23 22H1z"/><path class="on" d="M11 9h2v7h-2zM11 18h2v2h-2z"/></svg>`,
  stop_wear: html`<svg class="sign" viewBox="0 0 24 24" aria-hidden="true"><path d="M8 1h8l7 7v8l-7 7H8l-7-7V8z"/><path class="on" d="M6 11h12v2H6z"/></svg>`,
  heart_team: bang,
  call_clinic: bang,
};

export const isAlarm = (advice) => advice?.level === 'emergency' || advice?.level === 'stop_wear';

export const shapeOf = (level) => SHAPES[level];

/** A rule's words: the clinic's language file first, then the rule file's own. To a caregiver, with the `name` of the
 *  one they care for, those for caregivers, where there are some. */
export function wordsOf(advice, part, name = null) {
  const named = name && wordsFrom(advice, `${part}_of`);
  return named ? named.replaceAll('{name}', () => name) : wordsFrom(advice, part);
}

function wordsFrom(advice, part) {
  const own = advice.text[languageNow()]?.[part];
  const key = `advice.${advice.id}.${part}`;
  return own ?? (has(key) ? say(key, { name: '{name}' }) : advice.text.en[part]);
}

function keyWords(key, view) {
  if (key.kind === 'clinic') return say('call.clinic', { clinic: view.clinic?.name ?? '' });
  return sayOf(view, `call.${key.kind}`);
}

const dial = (key, view) => html`<a class="dial ${key.urgent ? 'urgent' : ''}" href="tel:${key.digits}">${keyWords(key, view)}<span class="digits">${key.number}</span></a>`;

const hourWords = (time) => dateWords(new Date(`2025-01-01T${time}`), { hour: 'numeric', minute: '2-digit' });

function openingWords({ opens, elsewhere }) {
  if (!opens) return say('call.closed');
  const day = dateWords(middayOf(opens.date), opens.ahead < 7 ? { weekday: 'long' } : { weekday: 'long', day: 'numeric', month: 'long' });
  const when = opens.ahead === 0 ? say('call.closed.today', { time: hourWords(opens.time) })
    : opens.ahead === 1 ? say('call.closed.tomorrow', { time: hourWords(opens.time) }) : say('call.closed.day', { day, time: hourWords(opens.time) });
  return elsewhere ? `${when} ${say('call.clinic_time')}` : when;
}

/** The keys to call with for advice of these levels, what is said above them, and below. No number has two keys. */
export function ways(levels, view, used = new Set()) {
  const { clinic, person, now } = view;
  const found = waysFor(levels, { contact: contactOf(clinic), contacts: person?.contacts, now });
  const keys = found.keys.filter((key) => !used.has(key.digits));
  for (const key of keys) used.add(key.digits);
  const said = (below) => found.says.filter((one) => one.what.startsWith('no_') === below)
    .map((one) => html`<p>${one.what === 'closed' ? openingWords(one.opening) : sayOf(view, `call.${one.what}`)}</p>`);
  return { above: html`${said(false)}${keys.map((key) => dial(key, view))}`, below: said(true), some: keys.length > 0 };
}

/** A bar above the thumb that leads to the card: whoever has scrolled on still sees it. */
export function alarmBar(view, found, at = 'advice') {
  const [first] = found;
  return isAlarm(first) ? html`<button class="alarm" id="alarm" data-do="alarm" data-arg="${at}">${SHAPES[first.level]}<span>${wordsOf(first, 'title', nameOf(view))}</span></button>` : '';
}

const sentences = (text) => text.split(/(?<=[.!?؟])\s+/);

/** The other rules in a line each, without the sentences that stand above already. */
function others([first, ...rest], name) {
  const said = new Set([wordsOf(first, 'title', name), ...sentences(wordsOf(first, 'do', name))]);
  const fresh = (text) => !said.has(text) && said.add(text);
  return rest.map((advice) => {
    const title = wordsOf(advice, 'title', name);
    // In an emergency nothing that only asks for a call to the clinic stands beside it.
    const texts = first.level === 'emergency' && !isAlarm(advice) ? [] : sentences(wordsOf(advice, 'do', name));
    const [head, text] = [fresh(title) ? title : '', texts.filter(fresh).join(' ')];
    return head || text ? html`<p>${head ? html`<strong>${head}.</strong> ` : ''}${text}</p>` : '';
  });
}

/** What the clinic did about it. */
export function answerOf({ status, on, answer }, today) {
  const day = on ? justDay(on, today) : '';
  return html`<p class="answer-of"><strong>${say(status === 'closed' ? 'advice.closed' : 'advice.read', { day })}</strong> ${answer ?? ''}</p>`;
}

/** One card for all that fired: the most urgent rule leads with its number to call, the others are lines under it. */
export function adviceCard(view, found, { id = 'advice', isNew = false, from = '' } = {}) {
  if (!found.length) return '';
  const [first] = found;
  const name = nameOf(view);
  const { above, below } = ways([...new Set([...found.map((one) => one.level), ...found.flatMap((one) => one.calls ?? [])])], view);
  const done = [...new Set(found.map((one) => one.clinic).filter((one) => one && one.status !== 'open'))];
  return html`<section class="advice ${first.level}" id="${id}" role="${isNew ? 'alert' : 'group'}" aria-labelledby="${id}-title" tabindex="-1">
    <h2 id="${id}-title">${SHAPES[first.level]}${wordsOf(first, 'title', name)}</h2>
    ${from ? html`<p class="small">${from}</p>` : ''}
    ${done.map((one) => answerOf(one, view.today))}
    ${above}
    <p>${wordsOf(first, 'do', name)}</p>
    ${others(found, name)}${below}
    ${found.every((one) => one.clinic && one.clinic.status !== 'open') ? '' : html`<p class="small">${say('advice.unread')}</p>`}
  </section>`;
}

/** The card of the entry that is written, was just saved or is looked at. Spoken aloud once, when it changes. */
export function adviceCards(view) {
  const { entry, draft, limb } = view;
  const seen = (limb && view.seen[limb.id]?.advice) ?? [];
  const found = view.advice.map((one) => ({ ...one, clinic: draft || !entry ? null : doneBy(seen, one.id, entry) }));
  return adviceCard(view, found, { isNew: view.adviceIsNew });
}
