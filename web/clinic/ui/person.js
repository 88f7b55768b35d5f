/** One person: facts, limbs, visits, and the phones that write for them. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { fullDay, instant, today, weekday } from '../when.js';
import { limbName, PURPOSE, TAG } from '../words.js';
import { ask } from './ask.js';
import { bookVisit, putBack } from './visit.js';
import { recordCall } from './contact.js';
import { consents, listenToConsents } from './agreement.js';
import { nameOf } from './signals.js';
import { listenToMessages, messages, writeMessage } from './message.js';
import { callKeys, calls, listenToReach } from './reach.js';
import { listenToRights, rights } from './person-rights.js';

export async function show(root, { params, context }) {
  const [person, asked, said] =
    await Promise.all([api.person(params.person), api.erasure(params.person), api.consents(params.person)]);
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
    context.say('The visit is called off.', { words: 'Undo', act: () => putBack(id, { cancelled: false }, 'The visit is back.', context) });
    context.again();
  });
  on(root, 'click', '[data-move-visit]', async (button) => {
    const visit = person.visits.find(({ id }) => id === button.dataset.moveVisit);
    if (await bookVisit({ person, visit, context })) context.again();
  });
  on(root, 'click', '[data-do=book]', async () => {
    if (await bookVisit({ person, context })) context.again();
  });
  on(root, 'click', '[data-do=call]', async () => {
    if (await recordCall({ person, context })) context.again();
  });
  on(root, 'click', '[data-do=write]', async () => {
    if (await writeMessage({ person, context })) context.again();
  });
  listenToMessages(root, context);
  listenToReach(root, context);
  return { title: person.name };
}

function page(person, asked, said, context) {
  const { everyone } = context;
  const coming = person.visits.filter((visit) => !visit.cancelled && visit.outcome === null && visit.on >= today());
  const past = person.visits.filter((visit) => !visit.cancelled && visit.outcome !== 'missed' && visit.on < today());
  return html`<div class="page person">
    <p class="crumb"><a href="#/people">People</a></p>
    <header class="page-head"><h1>${person.name}</h1><a class="second" href="#/people/${person.id}/edit">Change facts</a></header>
    <dl class="facts"><div><dt>Born</dt><dd>${person.born_on ? fullDay(person.born_on) : 'not entered'}</dd></div>
      <div><dt>On whose list</dt><dd>${nameOf(everyone, person.clinician_id) || 'nobody’s yet'}</dd></div>
      <div><dt>What changes the reading</dt><dd>${person.tags.length ? person.tags.map((tag) => TAG[tag] ?? tag).join(', ') : 'nothing entered'}</dd></div>${papers(person)}</dl>
    <section><h2>Call</h2><div class="reach-box">${callKeys(person)}</div><p><button type="button" class="second" data-do="call">Record a call…</button></p>${calls(person.contacts)}</section>
    <section><h2>Written to the phone</h2>${messages(person.messages)}<p><button type="button" class="second" data-do="write">Write…</button></p></section>
    <section><h2>Residual limbs</h2>
      ${person.limbs.length ? html`<ul class="cards">${person.limbs.map((limb) => {
        const worn = limb.sockets.filter((socket) => !socket.retired_on).at(-1);
        return html`<li><a class="name" href="#/limbs/${limb.id}">${limbName(limb)}</a>
          <span>${worn ? `${PURPOSE[worn.purpose]} socket since ${fullDay(worn.fitted_on)}` : 'no socket entered yet'}</span></li>`;
      })}</ul>` : html`<p class="hint">None entered yet. The log can start once a limb and its socket are here.</p>`}
      ${person.limbs.length < 2 ? html`<a class="second" href="#/people/${person.id}/limb">Add a limb</a>` : ''}</section>
    <section><h2>Visits</h2>
      ${coming.length ? html`<ul class="cards">${coming.map((visit) => html`<li><strong>${weekday(visit.on)}${visit.time ? `, ${visit.time}` : ''}</strong>
        <span>${visit.what ?? ''}</span><button type="button" class="plain" data-move-visit="${visit.id}">move…</button><button type="button" class="plain" data-cancel-visit="${visit.id}">call off</button></li>`)}</ul>`
        : html`<p class="hint">None planned.</p>`}
      ${past.length ? html`<p class="hint">Before: ${past.slice(-4).map((visit) => fullDay(visit.on)).join(', ')}</p>` : ''}
      <button type="button" class="second" data-do="book">Book a visit…</button></section>
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

/** What the clinic's own papers say. */
const papers = (person) => [['Record number', person.record_number], ['Referred by', person.referrer],
  ['Physician', [person.physician, person.physician_phone].filter(Boolean).join(', ')]]
  .filter(([, value]) => value).map(([name, value]) => html`<div><dt>${name}</dt><dd>${value}</dd></div>`);
