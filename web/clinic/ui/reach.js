/** How a person is reached: the numbers to call and copy, whom to ask for, and the calls that were made. */

import { html, on } from '../../shared/html.js';
import { day, instant } from '../when.js';

export const RESULT = { reached: 'Reached', not_reached: 'Not reached', left_word: 'Left word', called_us: 'They called' };

const digits = (number) => number.replace(/[^\d+*#]/g, '');

/** Keys to call and to copy; on a row only the first, as a key without its number. */
export function callKeys(person, { short = false } = {}) {
  const numbers = person.telephones ?? [];
  if (!numbers.length) return short ? '' : html`<p class="hint">No telephone number is entered. <a href="#/people/${person.id}/edit">Enter one</a></p>`;
  if (short) return html`<a class="dial" href="tel:${digits(numbers[0].number)}" aria-label="Call ${person.name}, ${numbers[0].number}" title="${numbers[0].number}">${handset}</a>`;
  const about = [person.ask_for && `Ask for ${person.ask_for}.`, person.language && `Speaks ${person.language}.`].filter(Boolean).join(' ');
  return html`<ul class="numbers">${numbers.map((one) => html`<li><a class="dial" href="tel:${digits(one.number)}">${handset}${one.number}</a>
    <button type="button" class="plain" data-copy="${one.number}" aria-label="Copy ${one.number}">copy</button>
    ${one.whose || one.best ? html`<span class="hint">${[one.whose, one.best].filter(Boolean).join(', ')}</span>` : ''}</li>`)}</ul>${about ? html`<p>${about}</p>` : ''}`;
}

const handset = html`<svg class="handset" viewBox="0 0 20 20" width="16" height="16" aria-hidden="true"><path d="M5 2.500 8 3l1 4-2 1.500a9 9 0 0 0 4.500 4.500L13 11l4 1 .500 3a2 2 0 0 1-2 2.500A13 13 0 0 1 2.500 4.500 2 2 0 0 1 5 2.500Z"/></svg>`;

export function listenToReach(root, context) {
  on(root, 'click', '[data-copy]', async (button) => {
    const number = button.dataset.copy;
    try {
      await navigator.clipboard.writeText(number);
      context.say(`${number} is copied.`);
    } catch {
      context.say(`This browser does not let a page copy. The number is ${number}.`);
    }
  });
}

/** Calls that were recorded, newest first. */
export function calls(contacts) {
  return contacts.length ? html`<ol class="notes">${contacts.map((one) => html`<li><p><strong>${RESULT[one.result] ?? one.result}</strong>${one.number ? ` ${one.number}` : ''}${one.said ? `: ${one.said}` : ''}</p>
    ${one.agreed ? html`<p>Agreed: ${one.agreed}</p>` : ''}<p class="hint">${one.by}, ${instant(one.created_at)}${one.next_on ? `. Next try ${day(one.next_on)}` : ''}</p></li>`)}</ol>` : html`<p class="hint">No call is recorded.</p>`;
}
