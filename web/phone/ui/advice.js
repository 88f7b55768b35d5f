/** What the fixed safety rules say, with the number to call. Level in words and shape, not in colour alone. */

import { html } from '../html.js';
import { has, say } from '../words.js';

const SHAPES = {
  emergency: html`<svg class="sign" viewBox="0 0 24 24" aria-hidden="true"><path d="M12 2 23 22H1z"/><path class="on" d="M11 9h2v7h-2zM11 18h2v2h-2z"/></svg>`,
  stop_wear: html`<svg class="sign" viewBox="0 0 24 24" aria-hidden="true"><path d="M8 1h8l7 7v8l-7 7H8l-7-7V8z"/><path class="on" d="M6 11h12v2H6z"/></svg>`,
  call: html`<svg class="sign" viewBox="0 0 24 24" aria-hidden="true"><circle cx="12" cy="12" r="11"/><path class="on" d="M11 6h2v8h-2zM11 16h2v2h-2z"/></svg>`,
};

const plain = (number) => String(number).replace(/[^\d+*#]/g, '');

export function callKeys(clinic, first) {
  const own = clinic?.phone
    ? html`<a class="dial" href="tel:${plain(clinic.phone)}">${say('call.clinic', { clinic: clinic.name })}<span class="digits">${clinic.phone}</span></a>`
    : '';
  const emergency = html`<a class="dial urgent" href="tel:${plain(clinic?.emergency_number ?? '112')}">${say('call.emergency')}<span class="digits">${clinic?.emergency_number ?? '112'}</span></a>`;
  return first === 'emergency' ? [emergency, own] : own;
}

/** The rule's words in the wearer's language; the rule file's own English where a language has none. */
const wordsOf = (advice, part) => (has(`advice.${advice.id}.${part}`) ? say(`advice.${advice.id}.${part}`) : advice[part]);

export function adviceCards(found, clinic) {
  const first = found[0];
  if (!first) return '';
  const level = SHAPES[first.level] ? first.level : 'call';
  return html`<section class="advice ${level}" role="alert">
    <h2>${SHAPES[level]}${say(`advice.level.${level}`)}</h2>
    ${found.map((advice) => html`<p><strong>${wordsOf(advice, 'title')}</strong> ${wordsOf(advice, 'text')}</p>`)}
    ${level === 'call' ? '' : html`<p>${say('advice.unread')}</p>`}
    ${callKeys(clinic, level)}
  </section>`;
}
