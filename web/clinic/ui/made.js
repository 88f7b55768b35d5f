/** Sockets made for a limb: go on with one, begin one; each socket’s parts, pads and what held it on. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { placeWords } from '/shared/places.js';
import { day, fullDay, today } from '../when.js';
import { limbName, MADE, padName, PURPOSE, SUSPENSION } from '../words.js';
import { ask } from './ask.js';
import { bothViews, padSize } from './bodymap.js';
import { despite } from './entry/despite.js';
import { form } from './form.js';
import { newId } from './new-id.js';

export async function show(root, { params, context }) {
  const story = await api.limb(params.limb);
  const { person, limb, makings } = story;
  const open = makings.filter((one) => !one.finished && !one.voided);
  const past = makings.filter((one) => one.finished || one.voided);
  render(root, html`<div class="page mk-made"><p class="crumb"><a href="#/limbs/${limb.id}">${person.name}</a></p>
    <header class="page-head"><h1>Sockets made for ${person.name}, ${limbName(limb)}</h1></header>
    ${open.length ? html`<section class="mk-open"><h2>Not finished</h2><ul>${open.map((one) => html`<li><a class="main" href="#/makings/${one.id}">Go on: ${MADE[one.made]}, begun ${fullDay(one.begun_on)}</a> <span class="hint">${one.open} of ${one.steps} steps open</span></li>`)}</ul></section>` : ''}
    <div class="mk-two"><div data-begin></div>
    <section><h2>Each socket</h2>${story.sockets.length ? [...story.sockets].reverse().map((one) => record(one, story)) : html`<p class="hint">None entered.</p>`}</section></div>
    ${past.length ? html`<section><h2>Made before</h2><ul class="mk-past">${past.map((one) => html`<li class="${one.voided ? 'gone' : ''}"><a href="#/makings/${one.id}">${MADE[one.made]}, ${fullDay(one.begun_on)}</a>${one.voided ? ' taken out as a mistake' : ''}<span class="hint block">${one.words}</span></li>`)}</ul></section>` : ''}</div>`);

  const id = newId();
  form(root.querySelector('[data-begin]'), {
    title: 'Begin one', level: 2, intro: 'The steps open, and go with you from screen to screen.', words: 'Begin',
    fields: [
      { name: 'made', label: 'How it is made', kind: 'choice', options: Object.entries(MADE), required: true, value: 'direct' },
      { name: 'purpose', label: 'Purpose', kind: 'choice', options: Object.entries(PURPOSE), required: true, value: story.sockets.length ? 'definitive' : 'diagnostic' },
      { name: 'suspension', label: 'Suspension', kind: 'choice', options: Object.entries(SUSPENSION) },
      { name: 'on', label: 'Begun on', kind: 'date', required: true, value: today() },
    ],
    save: async (values) => {
      const made = await despite((reason) => api.addToLimb(limb.id, 'makings', { id, ...values, ...reason }), 'Begin another');
      if (made) context.go(`makings/${made.id}`);
    },
  });

  on(root, 'submit', '.mk-part', async (own, event) => {
    event.preventDefault();
    const given = Object.fromEntries([...new FormData(own)].map(([name, text]) => [name, text.trim() || null]));
    if (given.weight_limit_kg !== null) given.weight_limit_kg = Number(given.weight_limit_kg.replace(',', '.'));
    const problem = own.querySelector('.problem');
    try {
      const added = await despite((reason) => api.addToSocket(own.dataset.socket, 'components', { ...given, ...reason }), 'Add it all the same');
      if (!added) return;
      context.say('The part is added. Its dates come up on the list a month before.');
      context.again();
    } catch (fault) {
      problem.textContent = Object.values(fault.fields ?? {})[0]?.[0] ?? fault.message;
      problem.hidden = false;
    }
  });
  on(root, 'click', '[data-retire]', async (button) => {
    const given = await ask({ title: `Retire ${button.dataset.what}?`, words: 'Retire it', body: html`<label>On<input type="date" name="on" value="${today()}" required></label><label>Why<input name="why" maxlength="400" autocomplete="off"></label>` });
    if (!given) return;
    await api.retireComponent(button.dataset.retire, { on: given.on, why: given.why.trim() || null });
    context.say('Retired.');
    context.again();
  });
  return { title: `Sockets made, ${person.name}` };
}

function record(socket, story) {
  const liner = [socket.liner_size && `size ${socket.liner_size}`, socket.liner_profile, socket.liner_mm && `${socket.liner_mm} mm`].filter(Boolean).join(', ');
  const pads = story.pads.filter((one) => one.socket_id === socket.id);
  const name = `${PURPOSE[socket.purpose]} socket of ${day(socket.fitted_on)}`;
  return html`<article class="mk-record"><h3>${name}</h3><p class="hint">${[MADE[socket.made], socket.retired_on ? `retired ${day(socket.retired_on)}${socket.retired_why ? `: ${socket.retired_why}` : ''}` : 'worn'].filter(Boolean).join('; ')}</p>
    <dl><dt>Liner</dt><dd>${liner || 'not entered'}</dd><dt>Lock or valve</dt><dd>${socket.lock_or_valve || 'not entered'}</dd>
      <dt>Held on by</dt><dd>${heldOn(socket)}</dd>
      ${pads.length ? html`<dt>Pads</dt><dd><ul>${pads.map((pad) => html`<li>${padWords(pad)}</li>`)}</ul>${pads.some(({ place }) => place) ? html`<div class="skin-map mk-pads">${bothViews(story.limb, [], { pads, looked: true })}</div>` : ''}</dd>` : ''}
      ${socket.components.length ? html`<dt>Parts</dt><dd><ul>${socket.components.map(part)}</ul></dd>` : ''}</dl>
    <details id="part-${socket.id}"><summary>Add a part<span class="hidden"> to the ${name}</span></summary><form class="mk-part" data-socket="${socket.id}"><p class="problem" role="alert" hidden></p>
      <label>What<input name="what" maxlength="120" required autocomplete="off" placeholder="such as Lock, Foot, Liner"></label><label>Maker, as you write it<input name="maker" maxlength="120" autocomplete="off"></label>
      <label>Number on it<input name="serial" maxlength="80" autocomplete="off"></label><label>Weight limit, kg<input name="weight_limit_kg" inputmode="decimal" autocomplete="off"></label>
      <label>Put in on<input type="date" name="fitted_on" value="${today() < socket.fitted_on ? socket.fitted_on : today()}" required></label>
      <label>Warranty until<input type="date" name="warranty_until"></label><label>To be changed by<input type="date" name="life_until"></label><button class="second">Add the part</button></form></details></article>`;
}

/** The whole row of what held the socket on, the first one too. */
function heldOn({ suspension, suspensions, fitted_on: fitted }) {
  if (!suspensions.length) return SUSPENSION[suspension] ?? 'not entered';
  const first = suspensions[0].was;
  return html`<ol>${first ? html`<li>${SUSPENSION[first]} from ${day(fitted)}</li>` : ''}${suspensions.map((one) => html`<li>${SUSPENSION[one.suspension]} from ${day(one.on)}${one.liner ? `, with ${one.liner}` : ''}</li>`)}</ol>`;
}

const padWords = (pad) => `${pad.half_sock_pct ? `${padName(pad)}, ` : ''}${padSize(pad)}${pad.place ? `, ${placeWords(pad.place)}` : ''}, from ${day(pad.on)}`;

function part(one) {
  const facts = [one.maker, one.serial && `no. ${one.serial}`, one.weight_limit_kg && `limit ${one.weight_limit_kg} kg`, one.warranty_until && `warranty until ${fullDay(one.warranty_until)}`,
    one.life_until && `to be changed by ${fullDay(one.life_until)}`].filter(Boolean).join(', ');
  return html`<li class="${one.retired_on ? 'gone' : ''}"><strong>${one.what}</strong> <span class="hint">${facts}</span> ${one.retired_on ? html`<span class="hint">retired ${day(one.retired_on)}${one.retired_why ? `: ${one.retired_why}` : ''}</span>`
    : html`<button type="button" class="plain" data-retire="${one.id}" data-what="${one.what}" aria-label="Retire ${one.what}">retire</button>`}</li>`;
}
