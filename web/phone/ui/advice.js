/** What the fixed safety rules say, with the number to call. Level in words and shape, not in colour alone. */

import { html } from '../../shared/html.js';
import { has, languageNow, say } from '../words.js';

const bang = html`<svg class="sign" viewBox="0 0 24 24" aria-hidden="true"><circle cx="12" cy="12" r="11"/><path class="on" d="M11 6h2v8h-2zM11 16h2v2h-2z"/></svg>`;

const SHAPES = {
  emergency: html`<svg class="sign" viewBox="0 0 24 24" aria-hidden="true"><path d="M12 2 23 22H1z"/><path class="on" d="M11 9h2v7h-2zM11 18h2v2h-2z"/></svg>`,
  stop_wear: html`<svg class="sign" viewBox="0 0 24 24" aria-hidden="true"><path d="M8 1h8l7 7v8l-7 7H8l-7-7V8z"/><path class="on" d="M6 11h12v2H6z"/></svg>`,
  heart_team: bang,
  call_clinic: bang,
};

const plain = (number) => String(number).replace(/[^\d+*#]/g, '');

const dial = (words, number, kind = '') => html`<a class="dial ${kind}" href="tel:${plain(number)}">${words}<span class="digits">${number}</span></a>`;

export const callEmergency = (clinic) => dial(say('call.emergency'), clinic?.emergency_number ?? '112', 'urgent');

export const callClinic = (clinic) => (clinic?.phone ? dial(say('call.clinic', { clinic: clinic.name }), clinic.phone) : '');

function keysFor(level, clinic) {
  if (level === 'emergency') return callEmergency(clinic);
  return level === 'heart_team' ? '' : callClinic(clinic);
}

/** A rule's words: the clinic's language file first, then the rule file's own. */
function wordsOf(advice, part) {
  const own = advice.text[languageNow()]?.[part];
  const key = `advice.${advice.id}.${part}`;
  return own ?? (has(key) ? say(key) : advice.text.en[part]);
}

/** A bar above the thumb that leads to the card: whoever has scrolled on still sees it. */
export function alarmBar(found) {
  const [first] = found;
  if (!first || (first.level !== 'emergency' && first.level !== 'stop_wear')) return '';
  return html`<button class="alarm" id="alarm" data-do="alarm">${SHAPES[first.level]}<span>${wordsOf(first, 'title')}</span></button>`;
}

/** Spoken aloud once, when it changes. The most urgent rule as a card with its number to call; the others under it in fewer words. */
export function adviceCards({ advice: found, clinic, adviceIsNew }) {
  if (!found.length) return '';
  const [first, ...rest] = found;
  return html`<section class="advice ${first.level}" id="advice" role="${adviceIsNew ? 'alert' : 'group'}" aria-labelledby="advice-title" tabindex="-1">
    <h2 id="advice-title">${SHAPES[first.level]}${wordsOf(first, 'title')}</h2>
    <p>${wordsOf(first, 'do')}</p>
    ${keysFor(first.level, clinic)}
    ${rest.map((advice) => html`<p><strong>${wordsOf(advice, 'title')}.</strong> ${wordsOf(advice, 'do')}</p>
      ${keysFor(advice.level, clinic) && advice.level !== first.level && first.level === 'emergency' ? callClinic(clinic) : ''}`).slice(0, 2)}
    <p class="small">${say('advice.unread')}</p>
  </section>`;
}
