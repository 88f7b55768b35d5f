/** One person: facts, limbs, visits, and the phones that write for them. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { fullDay, instant, today, weekday } from '../when.js';
import { limbName, PURPOSE, TAG } from '../words.js';
import { ask } from './ask.js';
import { consents, listenToConsents } from './consents.js';
import { nameOf } from './matters.js';
import { listenToRights, rights } from './person-rights.js';

export async function show(root, { params, context }) {
  const [person, asked, said] = await Promise.all([api.person(params.person), api.erasure(params.person), api.consents(params.person)]);
  render(root, page(person, asked, said, context));
  listenToConsents(root, person, context);
  listenToRights(root, person, context);
  on(root, 'click', '[data-revoke]', async (button) => {
    const sure = await ask({
      title: 'Shut this phone out?', words: 'Shut it out',
      body: html`<p>${button.dataset.label} can send and see nothing more, at once. What it sent stays. What it has not sent yet stays on the phone.</p>`,
    });
    if (!sure) return;
    await api.revokePhone(button.dataset.revoke);
    context.say('The phone is shut out.');
    context.again();
  });
  on(root, 'click', '[data-cancel-visit]', async (button) => {
    const id = button.dataset.cancelVisit;
    await api.changeVisit(id, { cancelled: true });
    context.say('The visit is cancelled.', { words: 'Undo', act: () => api.changeVisit(id, { cancelled: false }).then(context.again) });
    context.again();
  });
  return { title: person.name };
}

function page(person, asked, said, context) {
  const { everyone } = context;
  const coming = person.visits.filter((visit) => !visit.cancelled && visit.on >= today());
  const past = person.visits.filter((visit) => !visit.cancelled && visit.on < today());
  return html`<div class="page person">
    <p class="crumb"><a href="#/people">People</a></p>
    <header class="page-head"><h1>${person.name}</h1><a class="second" href="#/people/${person.id}/edit">Change facts</a></header>
    <dl class="facts"><div><dt>Born</dt><dd>${person.born_on ? fullDay(person.born_on) : 'not entered'}</dd></div>
      <div><dt>On whose list</dt><dd>${nameOf(everyone, person.clinician_id) || 'nobody’s yet'}</dd></div>
      <div><dt>What changes the reading</dt><dd>${person.tags.length ? person.tags.map((tag) => TAG[tag] ?? tag).join(', ') : 'nothing entered'}</dd></div></dl>
    <section><h2>Residual limbs</h2>
      ${person.limbs.length ? html`<ul class="cards">${person.limbs.map((limb) => {
        const worn = limb.sockets.filter((socket) => !socket.retired_on).at(-1);
        return html`<li><a class="name" href="#/limbs/${limb.id}">${limbName(limb)}</a>
          <span>${worn ? `${PURPOSE[worn.purpose]} socket since ${fullDay(worn.fitted_on)}` : 'no socket entered yet'}</span></li>`;
      })}</ul>` : html`<p class="hint">None entered yet. The log can start once a limb and its socket are here.</p>`}
      ${person.limbs.length < 2 ? html`<a class="second" href="#/people/${person.id}/limb">Add a limb</a>` : ''}</section>
    <section><h2>Visits</h2>
      ${coming.length ? html`<ul class="cards">${coming.map((visit) => html`<li><strong>${weekday(visit.on)}${visit.time ? `, ${visit.time}` : ''}</strong>
        <span>${visit.what ?? ''}</span><button type="button" class="plain" data-cancel-visit="${visit.id}">cancel</button></li>`)}</ul>`
        : html`<p class="hint">None planned.</p>`}
      ${past.length ? html`<p class="hint">Before: ${past.slice(-4).map((visit) => fullDay(visit.on)).join(', ')}</p>` : ''}
      <a class="second" href="#/people/${person.id}/visit">Plan a visit</a></section>
    <section><h2>Phones</h2>
      ${person.devices.length ? html`<ul class="cards">${person.devices.map((device) => html`<li class="${device.revoked_at ? 'gone' : ''}"><strong>${device.label}</strong>
        <span>${device.role === 'caregiver' ? 'a caregiver’s' : 'the wearer’s own'}, joined ${instant(device.enrolled_at)}${
          device.revoked_at ? `, shut out ${instant(device.revoked_at)}` : device.seen_at ? `, last heard ${instant(device.seen_at)}` : ', not heard yet'}</span>
        ${device.revoked_at ? '' : html`<button type="button" class="plain" data-revoke="${device.id}" data-label="${device.label}">shut out</button>`}</li>`)}</ul>`
        : html`<p class="hint">No phone has joined yet.</p>`}
      <a class="${person.devices.length ? 'second' : 'main'}" href="#/people/${person.id}/phone">Join a phone</a></section>
    <div class="consents-place">${consents(said, person, context)}</div>
    ${rights(person, asked, context)}
  </div>`;
}
