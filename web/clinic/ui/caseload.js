/** Bring a caseload: a file, what has to be asked about it, row by row what it would make, then the bringing. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { fullDay } from '../when.js';
import { many } from '../words.js';
import { ask } from './ask.js';
import { drawCode } from './qr.js';

const PART = 900_000; // bytes a call
const FIELDS = [
  ['Person', [['name', 'Name'], ['born_on', 'Birth date'], ['record_number', 'Record number'], ['telephone', 'Telephone'], ['language', 'Language'], ['referrer', 'Referrer'], ['physician', 'Physician'], ['physician_phone', 'Physician’s telephone']]],
  ['Limb', [['side', 'Side'], ['level', 'Level'], ['amputated_on', 'Amputated on'], ['reference_circumference_mm', 'Circumference for reference']]],
  ['Socket', [['fitted_on', 'Fitted on'], ['retired_on', 'Retired on'], ['purpose', 'Purpose'], ['suspension', 'Suspension'], ['material', 'Material'], ['liner_mm', 'Liner thickness'], ['weight_limit_kg', 'Weight limit']]],
  ['Tape', [['measured_on', 'Measured on'], ['circumference', 'Circumference at a level'], ['weight_kg', 'Body weight'], ['measured_by', 'Measured by']]],
];
const LENGTHS = ['mm', 'cm', 'in'];
const WEIGHTS = ['kg', 'lb'];
const UNITS = { reference_circumference_mm: LENGTHS, circumference: LENGTHS, liner_mm: LENGTHS,
  weight_limit_kg: WEIGHTS, weight_kg: WEIGHTS };
const ORDERS = [['dmy', 'day, month, year'], ['mdy', 'month, day, year'], ['ymd', 'year, month, day']];
const KIND = { person: ['person', 'people'], limb: ['limb', 'limbs'], socket: ['socket', 'sockets'], measurement: ['measurement', 'measurements'] };

const counted = (made) => Object.entries(KIND).filter(([kind]) => made[kind]).map(([kind, [one, more]]) => `${made[kind]} ${made[kind] === 1 ? one : more}`).join(', ') || 'nothing new';
const faultWords = (faults) => Object.entries(faults).map(([place, words]) => html`<span class="fault">${place}: ${words}</span> `);

export async function show(root, { context }) {
  render(root, html`<div class="page caseload"><p class="crumb"><a href="#/people">People</a></p><header class="page-head"><h1>Bring a caseload</h1></header>
    <p class="problem" role="alert" hidden></p><div class="step"></div><section class="before"></section><section class="letters-out" aria-live="polite"></section></div>`);
  const step = root.querySelector('.step');
  const problem = root.querySelector('.problem');
  let current = null;

  async function tried(act) {
    problem.hidden = true;
    try {
      await act();
    } catch (fault) {
      problem.textContent = Object.values(fault.fields ?? {}).flat().join(' ') || fault.message;
      problem.hidden = false;
    }
  }

  function start() {
    render(step, html`<div class="field"><label for="caseload-file">A CSV file, or an open FHIR bundle (JSON)</label>
      <input id="caseload-file" type="file" accept=".csv,.txt,.json,text/csv,application/json"></div>
      <p class="hint">Nothing is made until you have seen, row by row, what it would be.</p>`);
  }

  async function send(file) {
    const bytes = new Uint8Array(await file.arrayBuffer());
    const kind = /\.json$/i.test(file.name) ? 'fhir' : 'csv';
    const { id } = await api.beginCaseload({ name: file.name.slice(0, 200), kind, size: bytes.length });
    for (let at = 0, n = 0; at < bytes.length; at += PART, n += 1) await api.sendPart(id, n,
      base64(bytes.subarray(at, at + PART)));
    current = await api.caseloadFile(id);
    asked();
  }

  function asked() {
    const { file, kind } = current;
    if (kind === 'fhir') return rehearse();
    render(step, html`${file.brought_before ? html`<p class="notice">This very file was brought on ${fullDay(file.brought_before.on)}. Rows that are here already make nothing new.</p>` : ''}
      <form class="match">${file.encodings ? html`<fieldset><legend>Which of these reads right?</legend>${file.encodings.map((one) => html`<label class="check"><input type="radio" name="encoding" value="${one.encoding}" required> ${one.words}: <q>${one.sample}</q></label>`)}</fieldset>`
        : html`<p>${many(file.rows, 'row')}.${file.cut ? ' The last one ends early: the file may have been cut short.' : ''} Say what each column is.</p>
        <div class="wide" tabindex="0" role="region" aria-label="Columns"><table><thead><tr><th scope="col">Heading</th><th scope="col">First rows</th><th scope="col">What it is</th><th scope="col">Unit</th><th scope="col">mm above the end</th></tr></thead>
        <tbody>${file.heading.map((name, i) => columnRow(name, i, file))}</tbody></table></div>
        ${file.dates.length || current.choices.date_order ? orders(file) : html`<div class="orders"></div>`}`}
      <p class="buttons"><button class="main">Show what it would make</button> <button type="button" class="second" data-do="again">Another file</button></p></form>`);
  }

  function orders(file) {
    return html`<fieldset class="orders"><legend>In which order are the dates written?</legend><p class="hint">Such as ${file.dates.join(', ')}</p>${ORDERS.map(([code, words]) => html`<label class="check"><input type="radio" name="date_order" value="${code}" required${current.choices.date_order === code ? html` checked` : ''}> ${words}</label>`)}</fieldset>`;
  }

  async function choose(form) {
    const given = new FormData(form);
    const said = {};
    if (given.get('encoding')) said.encoding = given.get('encoding');
    if (given.get('date_order')) said.date_order = given.get('date_order');
    if (current.file.heading) {
      said.columns = Object.fromEntries(current.file.heading.map((name, i) => {
        const field = given.get(`field-${i}`);
        const above = given.get(`above-${i}`);
        return [name, field ? { field, unit: given.get(`unit-${i}`) || null, from_end_mm: above ? Number(above) : null } : null];
      }));
    }
    await api.chooseForCaseload(current.id, said);
    current = await api.caseloadFile(current.id);
    if (current.file.asks.length) return asked();
    await rehearse();
  }

  async function rehearse(before = null) {
    const said = await api.dryRun(current.id, before?.next);
    const rows = [...(before?.rows ?? []), ...said.rows];
    render(step, html`<h2>What it would make</h2><p><strong>${counted(said.would_make)}</strong> from ${many(said.total, 'row')}; ${said.nothing_new} hold nothing new, ${said.wrong} can’t be read and stay out.</p>
      ${current.file?.left_out ? html`<p class="hint">${many(current.file.left_out, 'entry', 'entries')} of wearers ${current.file.left_out === 1 ? 'stays' : 'stay'} out: only a phone writes those.</p>` : ''}
      ${said.wrong ? html`<details open id="wrong-rows"><summary>Rows that stay out</summary><ul class="plain-list">${said.wrong_rows.map((one) => html`<li>Row ${one.n} ${faultWords(one.faults)}</li>`)}</ul></details>` : ''}
      <div class="wide" tabindex="0" role="region" aria-label="Rows"><table><thead><tr><th scope="col">Row</th><th scope="col">Who</th><th scope="col">Would make</th></tr></thead>
      <tbody>${rows.map((one) => html`<tr><td>${one.n}</td><td>${one.person}</td><td>${Object.keys(one.faults).length ? faultWords(one.faults) : one.makes.map((kind) => KIND[kind][0]).join(', ') || 'nothing new'}${one.same_name ? html` <span class="hint">somebody else here has this name</span>` : ''}</td></tr>`)}</tbody></table></div>
      ${said.next ? html`<p><button type="button" class="second" data-do="more-rows">Show more rows</button></p>` : ''}
      <p class="buttons"><button type="button" class="main" data-do="bring"${said.wrong === said.total ? html` disabled` : ''}>Bring them</button> ${current.kind === 'csv' ? html`<button type="button" class="second" data-do="back">Back to the columns</button>` : ''} <button type="button" class="second" data-do="again">Another file</button></p>`);
    step.querySelector('[data-do=more-rows]')?.addEventListener('click', () => tried(() => rehearse({ rows, next: said.next })), { once: true });
  }

  async function bring() {
    let said = { done_to: current.done_to, rows: null };
    render(step, html`<h2>Bringing</h2><progress max="100" value="0" aria-label="Rows brought"></progress><p class="how-far" role="status"></p>`);
    do {
      said = await api.bringPortion(current.id, said.done_to);
      const bar = step.querySelector('progress');
      if (!bar) return;
      bar.max = said.rows || 1;
      bar.value = said.done_to;
      step.querySelector('.how-far').textContent = `${said.done_to} of ${many(said.rows, 'row')}`;
    } while (!said.brought_at);
    context.say(`Brought: ${counted(said.made)}.`);
    start();
    await before();
  }

  async function before() {
    const list = await api.caseloads();
    render(root.querySelector('.before'), list.length ? html`<h2>Brought before</h2><ul class="cards">${list.map((one) => html`<li><strong>${one.name}</strong><span>${fullDay(one.created_at.slice(0, 10))}, by ${one.by}: ${one.undone_at ? 'taken back' : counted(one.made)}</span>
      ${one.faults.length ? html`<details><summary>${many(one.faults.length, 'row')} stayed out</summary><ul class="plain-list">${one.faults.map((row) => html`<li>Row ${row.n} ${faultWords(row.faults)}</li>`)}</ul></details>` : ''}
      ${one.undone_at ? '' : html`<span class="buttons">${one.made.person ? html`<button type="button" class="second" data-letters="${one.id}">Letters with codes</button> ` : ''}<button type="button" class="plain" data-undo="${one.id}" data-name="${one.name}">take it all back</button></span>`}</li>`)}</ul>` : '');
  }

  async function undo(button) {
    const sure = await ask({ title: 'Take the whole import back?', words: 'Take it back', body: html`<p>Everybody ${button.dataset.name} made is taken out again. Whoever has a phone, or was changed since, is kept and named.</p>` });
    if (!sure) return;
    const kept = [];
    let after = '';
    do {
      const said = await api.undoPortion(button.dataset.undo, after);
      kept.push(...said.kept);
      after = said.next;
    } while (after);
    context.say('Taken back.');
    await before();
    if (kept.length) render(step, html`<h2>Kept</h2><ul class="plain-list">${kept.map((one) => html`<li><a href="#/people/${one.person_id}">${one.name}</a>: ${one.why}</li>`)}</ul><p class="buttons"><button type="button" class="second" data-do="again">Another file</button></p>`);
  }

  async function letters(caseloadId) {
    const made = [];
    let said = { next: 0 };
    do {
      said = await api.caseloadLetters(caseloadId, said.next);
      made.push(...said.letters);
    } while (said.next);
    const place = root.querySelector('.letters-out');
    render(place, made.length ? html`<h2>${made.length} letters</h2><p class="hint">Each code works once, until ${fullDay(said.expires_at.slice(0, 10))}. They are shown only here and only now.</p><p class="buttons"><button type="button" class="main" data-do="print">Print</button></p>
      ${made.map((one) => letter(one, context.clinic.name, said.expires_at))}` : html`<p>Everybody has a phone already.</p>`);
    place.querySelectorAll('.qr-place').forEach((spot, i) => drawCode(spot, made[i].qr_svg));
    place.querySelector('h2')?.scrollIntoView();
  }

  on(root, 'change', '#caseload-file', (input) => input.files[0] && tried(() => send(input.files[0])));
  on(root, 'submit', '.match', (form, event) => {
    event.preventDefault();
    tried(() => choose(form));
  });
  on(root, 'click', '[data-do=again]', start);
  on(root, 'click', '[data-do=back]', asked);
  on(root, 'click', '[data-do=bring]', () => tried(bring));
  on(root, 'click', '[data-do=print]', () => window.print());
  on(root, 'click', '[data-undo]', (button) => tried(() => undo(button)));
  on(root, 'click', '[data-letters]', (button) => tried(() => letters(button.dataset.letters)));
  start();
  await tried(before);
  return { title: 'Bring a caseload' };
}

function columnRow(name, i, file) {
  const match = file.columns[name] ?? {};
  const units = [...LENGTHS, ...WEIGHTS];
  return html`<tr><th scope="row">${name}</th><td>${file.first.map((cells) => cells[i]).filter(Boolean).join(' · ')}</td>
    <td><select name="field-${i}" aria-label="What ${name} is"><option value="">leave out</option>${FIELDS.map(([group, list]) => html`<optgroup label="${group}">${list.map(([code, words]) => html`<option value="${code}"${match.field === code ? html` selected` : ''}>${words}</option>`)}</optgroup>`)}</select></td>
    <td><select name="unit-${i}" aria-label="Unit of ${name}"><option value=""></option>${(UNITS[match.field] ?? units).map((unit) => html`<option${match.unit === unit ? html` selected` : ''}>${unit}</option>`)}</select></td>
    <td><input name="above-${i}" type="number" min="0" max="1000" step="any" value="${match.from_end_mm ?? ''}" aria-label="How far above the end ${name} was measured, in mm"></td></tr>`;
}

function letter({ name, code, url }, clinic, until) {
  return html`<article class="join-letter"><p>${clinic}</p><h3>${name}</h3><p>This code joins your phone to the clinic. Point the phone’s camera at the picture,</p>
    <div class="qr-place" role="img" aria-label="Code to scan: ${code}"></div><p>or open <b>${new URL(url).origin}/phone/</b> and type</p><p class="letters">${code}</p><p>It works once, until ${fullDay(until.slice(0, 10))}. Keep it to yourself until then.</p></article>`;
}

function base64(bytes) {
  let text = '';
  for (let i = 0; i < bytes.length; i += 8192) text += String.fromCharCode(...bytes.subarray(i, i + 8192));
  return btoa(text);
}
