/** What a person may have: all that is held of them, a phone's file taken in, and to be erased. */

import * as api from '../api.js';
import { html, on } from '../../shared/html.js';
import { instant } from '../when.js';
import { many } from '../words.js';
import { ask } from './ask.js';
import { nameOf } from './signals.js';

const ERASERS = ['manager'];
const EXPORTERS = ['prosthetist', 'manager'];

export function rights(person, asked, { staff, everyone }) {
  const may = EXPORTERS.includes(staff.role);
  return html`<section><h2>Records</h2>
    ${may ? html`<ul class="cards"><li><strong>All that is held</strong><span>check-ins, visits, notes, photos, and who looked</span>
      <a class="plain" href="${api.exportAddress(person.id, 'html')}" download>to read</a> <a class="plain" href="${api.exportAddress(person.id, 'json')}" download>for a machine</a></li></ul>` : ''}
    <label class="take-in">A file that a phone made of what it could not send<input type="file" accept="application/json,.json" data-phone-file></label>
    ${asked ? html`<div class="problem"><p><strong>${nameOf(everyone, asked.asked_by)} asked on ${instant(asked.asked_at)} for ${person.name} to be erased.</strong> ${asked.reason ?? ''}</p>
        <p class="buttons">${ERASERS.includes(staff.role) ? html`<button type="button" class="second" data-do="erase">Erase for good…</button>` : html`<span>A manager does it, not the one who asked.</span>`}
        ${may ? html`<button type="button" class="second" data-do="keep">Take the request back</button>` : ''}</p></div>`
      : may ? html`<button type="button" class="plain" data-do="ask-erasure">Ask for this person to be erased</button>` : ''}</section>`;
}

/** Act on the section's buttons; what fails is said by the controller. */
export function listenToRights(root, person, context) {
  on(root, 'change', '[data-phone-file]', async (box) => {
    const [file] = box.files;
    if (!file) return;
    let given;
    try {
      given = JSON.parse(await file.text());
    } catch {
      return context.say('This is not a file a phone made.');
    }
    const { receipts } = await api.bringPhoneFile(person.id, given);
    const count = (status) => receipts.filter((one) => one.status === status).length;
    context.say(`${many(count('kept'), 'check-in')} kept, ${count('already')} were here already, ${count('refused')} refused.`);
    box.value = '';
  });
  on(root, 'click', '[data-do=ask-erasure]', async () => {
    const given = await ask({
      title: `Ask for ${person.name} to be erased?`, words: 'Ask',
      body: html`<p>A manager, not you, then erases everything: log, photos, notes, phones. Backups forget them when they run out.</p>
        <label>Why<textarea name="reason" rows="2" maxlength="500"></textarea></label>`,
    });
    if (!given) return;
    await api.askErasure(person.id, { reason: given.reason.trim() || null });
    context.again();
  });
  on(root, 'click', '[data-do=keep]', async () => {
    await api.takeErasureBack(person.id);
    context.say('Nobody is erased.');
    context.again();
  });
  on(root, 'click', '[data-do=erase]', async () => {
    const given = await ask({
      title: 'Erase for good?', words: 'Erase', cancel: 'Keep',
      body: html`<p>This can’t be undone. Type the person’s name to go on.</p><label>Name<input name="name" autocomplete="off" required></label>`,
    });
    if (!given) return;
    await api.confirmErasure(person.id, given.name);
    context.say('The person is erased.');
    context.go('people', { instead: true });
  });
}
