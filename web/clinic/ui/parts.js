/** Parts whose warranty or life ends on a date; they come up on the list a month before. */

import * as api from '../api.js';
import { html, on } from '../../shared/html.js';
import { fullDay } from '../when.js';

export function parts(list, { acts = true } = {}) {
  return html`${list.length ? html`<ul class="plain-list">${list.map((one) => html`<li>${one.what}: ${fullDay(one.ends_on)}${
    acts ? html` <button type="button" class="plain" data-part-out="${one.id}" aria-label="Take out ${one.what}">take out</button>` : ''}</li>`)}</ul>` : html`<p class="hint">None entered.</p>`}
    ${acts ? html`<form class="part-form in-line"><label>Part<input name="what" maxlength="120" required autocomplete="off" placeholder="such as Liner, warranty"></label><label>Ends on<input type="date" name="ends_on" required></label><button class="second">Keep</button></form>` : ''}`;
}

export function listenToParts(root, limbId, context) {
  on(root, 'submit', '.part-form', async (form, event) => {
    event.preventDefault();
    await api.addToLimb(limbId, 'parts', { what: form.elements.what.value.trim(), ends_on: form.elements.ends_on.value });
    context.say('Kept. It comes up on the list a month before.');
    context.again();
  });
  on(root, 'click', '[data-part-out]', async (button) => {
    await api.takePartOut(button.dataset.partOut);
    context.say('Taken out.');
    context.again();
  });
}
