/** What a person agreed to or took back: on a phone, and on paper, which staff enter here. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { fullDay, instant, today } from '../when.js';
import { ask } from './ask.js';
import { nameOf } from './signals.js';

const FOR = ['Photos of the skin', 'Photos for teaching', 'Log read by somebody else'];

export function consents(said, person, { everyone }) {
  const label = (deviceId) => person.devices.find((one) => one.id === deviceId)?.label ?? 'a phone that is no longer known';
  return html`<section class="consents"><h2>Consents</h2>
    ${said.paper.length || said.consents.length ? html`<ul class="cards">
      ${said.paper.map((one) => html`<li><strong>${one.given ? 'Given' : 'Taken back'} on paper: ${one.what_for}</strong>
        <span>${fullDay(one.on)}, by ${one.by}; entered by ${nameOf(everyone, one.by_staff)}, ${instant(one.entered_at)}</span></li>`)}
      ${said.consents.map((one) => html`<li><strong>${one.agreed ? 'Agreed' : 'Taken back'} on ${label(one.device_id)}</strong>
        <span>${instant(one.said_at)}, words “${one.words}”</span></li>`)}</ul>` : html`<p class="hint">None recorded.</p>`}
    <button type="button" class="second" data-do="paper-consent">Record a consent on paper</button></section>`;
}

export function listenToConsents(root, person, context) {
  on(root, 'click', '[data-do=paper-consent]', async () => {
    const given = await ask({
      title: 'A consent on paper', words: 'Keep',
      body: html`<fieldset><legend class="hidden">Given or taken back</legend>
          <label class="check"><input type="radio" name="given" value="yes" checked> given</label>
          <label class="check"><input type="radio" name="given" value="no"> taken back</label></fieldset>
        <label>Date on the paper<input type="date" name="on" value="${today()}" max="${today()}" required></label>
        <label>By whom<input name="by" value="${person.name}" maxlength="120" required autocomplete="off"></label>
        <label>What for<input name="what_for" list="consent-for" maxlength="200" required autocomplete="off"></label>
        <datalist id="consent-for">${FOR.map((words) => html`<option value="${words}"></option>`)}</datalist>
        <p class="hint">It is kept for good. If this one turns out wrong, record another: the history shows both.</p>`,
    });
    if (!given) return;
    await api.addToPerson(person.id, 'consents', { ...given, given: given.given === 'yes' });
    context.say('Kept in the consent history.');
    render(root.querySelector('.consents-place'), consents(await api.consents(person.id), person, context));
  });
}
