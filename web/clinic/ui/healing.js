/** Places of skin over time: each look with its photos side by side, sizes the clinic measured, and the day it
 *  healed. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { placeWords } from '../../shared/places.js';
import { threadsOf } from '../healing.js';
import { day, fullDay, today } from '../when.js';
import { COURSE, FINDING, limbName, many, said } from '../words.js';
import { ask } from './ask.js';
import { counted } from './log.js';

const SHOWN = 6; // looks in the strip: the first and the newest

export async function show(root, { params, context }) {
  const story = await api.limb(params.limb);
  const { person, limb } = story;
  const threads = threadsOf(story.days.flatMap(counted), story.healing);
  render(root, html`<div class="page healing"><p class="crumb"><a href="#/limbs/${limb.id}">${person.name}</a></p>
    <header class="page-head"><h1>Skin over time: ${person.name}, ${limbName(limb)}</h1></header>
    <p class="intro">From the wearer’s own entries and photos. A place is done when two later looks found nothing and somebody here wrote that it healed.</p>
    ${threads.length ? threads.map(card) : html`<p class="notice empty">Nothing was found on this limb.</p>`}</div>`);

  const threadOf = (button) => threads[Number(button.closest('[data-thread]').dataset.thread)];
  on(root, 'click', '[data-write]', (button) => write(threadOf(button), button.dataset.write));
  on(root, 'click', '[data-out]', async (button) => {
    await api.takeHealingOut(button.dataset.out);
    context.say('Taken out.');
    context.again();
  });

  /** Asked until it is kept or put aside; what is refused stands above what was typed. */
  async function write({ place, last }, what) {
    let problem = null;
    let before = { on: today() };
    for (;;) {
      const given = await ask({ title: `${TITLES[what]}: ${placeWords(place)}`, words: 'Keep', body: fields(what, before, problem, last) });
      if (!given) return;
      before = given;
      try {
        await api.addToLimb(limb.id, 'healing', sent(given, place, what));
        context.say('Kept.');
        context.again();
        return;
      } catch (fault) {
        if (!fault.fields) throw fault;
        problem = Object.values(fault.fields)[0]?.[0] ?? fault.message;
      }
    }
  }
  return { title: `Skin over time, ${person.name}` };
}

const TITLES = { size: 'Size', healed: 'Healed', open: 'Open again' };

const millimetres = (text) => (text?.trim() ? Number(text.trim().replace(',', '.')) : null);

function sent({ on: date, length, width, note }, place, what) {
  const size = what === 'size' ? { length_mm: millimetres(length), width_mm: millimetres(width) } : {};
  return { place, what, on: date || today(), note: note?.trim() || null, ...size };
}

const fields = (what, before, problem, last) => html`${problem ? html`<p class="problem" role="alert">${problem}</p>` : ''}
  <label>On<input type="date" name="on" value="${before.on}" max="${today()}" required></label>
  ${what === 'size' ? html`<label>Length, mm<input name="length" inputmode="decimal" value="${before.length ?? ''}" required></label>
    <label>Width, mm (if you like)<input name="width" inputmode="decimal" value="${before.width ?? ''}"></label>` : ''}
  ${what === 'healed' ? html`<p class="hint">Found last on ${fullDay(last)}. The phone goes on asking until two looks found nothing.</p>` : ''}
  <label>Note (if you like)<input name="note" maxlength="300" value="${before.note ?? ''}" autocomplete="off"></label>`;

/** Where a thread stands, in a line. */
function stands({ done, healed, clear, last, sizes }) {
  if (!last) return html`<strong>${sizes.length ? 'Measured' : 'Written'} here; the entry was corrected since.</strong> No entry names this place now.`;
  if (done) return html`<strong>Done.</strong> Healed on ${day(healed.on)}, ${many(clear, 'clear look')} since ${day(last)}.`;
  if (healed) return html`<strong>Healed on ${day(healed.on)}</strong> by ${healed.by}; ${clear ? 'one clear look so far' : 'no clear look yet'}, two are wanted.`;
  return html`<strong>${clear > 1 ? 'Clear, not closed here yet' : 'Open'}.</strong> Found last on ${day(last)}${clear ? `, ${many(clear, 'clear look')} since` : ''}.`;
}

const sizeWords = ({ length_mm: length, width_mm: width }) => `${length}${width ? ` × ${width}` : ''} mm`;

function card(thread, i) {
  const { place, looks, sizes, healed, records, done, latest } = thread;
  const shown = looks.length > SHOWN ? [looks[0], ...looks.slice(1 - SHOWN)] : looks;
  return html`<section class="thread ${done ? 'done' : ''}" data-thread="${i}" aria-labelledby="thread-${i}"><h2 id="thread-${i}">${placeWords(place)}</h2>
    <p>${stands(thread)}</p>
    ${shown.length ? html`<ol class="looks">${shown.map((look) => html`<li class="${look.still || !look.looked ? '' : 'clear'}"><strong>${day(look.date)}</strong>
      ${look.photos.map((id, n) => html`<a href="/api/clinic/photos/${id}" target="_blank" rel="noopener"><img src="/api/clinic/photos/${id}" alt="Photo ${n + 1} of ${day(look.date)}, ${placeWords(place)}" loading="lazy" width="160" height="160"></a>`)}
      <span>${look.found.length ? kinds(look.found) : look.still ? 'still there' : 'nothing found'}</span>${look.course ? html`<span class="hint">${said(COURSE, look.course)}</span>` : ''}
      ${sizes.filter((one) => one.on === look.date).map((one) => html`<span class="hint">${sizeWords(one)}</span>`)}</li>`)}</ol>` : ''}
    ${looks.length > SHOWN ? html`<p class="hint">The first look and the newest; ${looks.length - SHOWN} between are in the log.</p>` : ''}
    ${records.length ? html`<ul class="plain-list">${records.map((one) => html`<li>${one.what === 'size' ? sizeWords(one) : 'healed'}, ${day(one.on)}${one.note ? `: ${one.note}` : ''} <span class="hint">${one.by}</span>
      <button type="button" class="plain" data-out="${one.id}" aria-label="Take out: ${one.what === 'size' ? sizeWords(one) : 'healed'}, ${day(one.on)}">take out</button></li>`)}</ul>` : ''}
    ${latest ? html`<p class="buttons"><button type="button" class="second" data-write="size">Enter a size…</button>
      <button type="button" class="second" data-write="${healed ? 'open' : 'healed'}">${healed ? 'It is open again…' : 'It healed…'}</button></p>` : ''}</section>`;
}

const kinds = (found) => [...new Set(found.map(({ finding, redness_minutes: minutes }) => `${said(FINDING, finding)}${minutes ? `, ${minutes} min` : ''}`))].join('; ');
