/** What the clinic has in stock: what to order first, then every item; a file in, files out. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { day, fullDay, instant, later, today } from '../when.js';
import { many } from '../words.js';
import { ask } from './ask.js';
import { form } from './form.js';
import { newId } from './new-id.js';

export const KIND = { liner: 'liner', sock: 'sock', lock: 'lock', kit: 'kit', other: 'other' };
const PLY = [[0, 'sheath'], [1, '1-ply'], [2, '2-ply'], [3, '3-ply'], [5, '5-ply'], [6, '6-ply']];
const MOST_SHOWN = 300;

export const itemFields = (item = {}) => [
  { name: 'kind', label: 'Kind', kind: 'choice', options: Object.entries(KIND), required: true, value: item.kind ?? 'liner' },
  { name: 'name', label: 'Name', kind: 'text', required: true, value: item.name, hint: 'As you write it; nothing is offered from a catalogue.' },
  { name: 'size', label: 'Size', kind: 'text', value: item.size },
  { name: 'maker', label: 'Maker or supplier', kind: 'text', value: item.maker },
  { name: 'counted_in', label: 'Counted in', kind: 'choice', options: [['unit', 'pieces'], ['pair', 'pairs']], required: true, value: item.counted_in ?? 'unit' },
  { name: 'least', label: 'Least on the shelf', kind: 'whole', value: item.least === undefined ? '' : item.least / (item.counted_in === 'pair' ? 2 : 1) },
  { name: 'ply', label: 'Of a sock: ply', kind: 'choice', options: PLY, value: item.ply },
  { name: 'from_mm', label: 'Of a liner: from which circumference', kind: 'quantity', measure: 'length', low: 100, high: 900, value: item.from_mm, hint: '4 cm above the end of the limb, by its maker’s table.' },
  { name: 'to_mm', label: 'To', kind: 'quantity', measure: 'length', low: 100, high: 900, value: item.to_mm },
];

export const itemValues = ({ ply, least, ...values }) =>
  ({ ...values, least: least ?? 0, ply: ply === null ? null : Number(ply) });

export async function show(root, { context }) {
  const [items, need, brought] = await Promise.all([api.stockItems(), api.stockNeed(), api.stockImports()]);
  const mayBring = context.staff.role !== 'assistant';
  render(root, html`<div class="page st-page"><header class="page-head"><h1>Stock</h1><span class="buttons"><a class="second" href="${api.stockFile('stock')}" download>On hand, CSV</a><a class="second" href="${api.stockFile('ledger')}" download>Ledger, CSV</a></span></header>
    <div class="st-two"><section><h2>To order</h2>${order(need)}</section><section><h2>The coming four weeks</h2>${coming(need)}</section></div>
    <section><h2>On hand</h2>${items.length ? html`<label class="st-find">Find<input type="search" data-find autocomplete="off"></label><div data-items>${table(items)}</div>` : html`<p class="hint">Nothing is entered yet. Add an item, or bring a file.</p>`}</section>
    <div class="st-two"><details id="st-new"><summary>Add an item</summary><div data-new></div></details>
      ${mayBring ? html`<details id="st-file"><summary>Bring a file</summary>${file()}</details>` : ''}</div>
    ${brought.length ? html`<section><h2>Files brought</h2><ul class="st-files">${brought.map((one) => fileLine(one, mayBring))}</ul></section>` : ''}</div>`);

  form(root.querySelector('[data-new]'), {
    title: 'A new item', level: 2, words: 'Add the item', fields: itemFields(),
    save: async (values) => {
      const { id } = await api.addStockItem(itemValues(values));
      context.say('The item is added.');
      context.go(`stock/${id}`);
    },
  });
  on(root, 'input', '[data-find]', (box) => {
    const words = box.value.trim().toLowerCase();
    render(root.querySelector('[data-items]'), table(items.filter((one) => `${one.kind} ${one.name} ${one.size ?? ''} ${one.maker ?? ''} ${one.lots.map(({ lot }) => lot).join(' ')}`.toLowerCase().includes(words))));
  });

  let chosen = null;
  on(root, 'submit', '.st-bring', async (own, event) => {
    event.preventDefault();
    const said = root.querySelector('[data-seen]');
    const picked = own.elements.file.files[0];
    if (!picked) return render(said, html`<p class="problem" role="alert">Choose a file first.</p>`);
    chosen = { id: newId(), name: picked.name.slice(0, 120), how: own.elements.how.value, csv: await picked.text() };
    try {
      render(said, seen(await api.bringStock({ ...chosen, dry_run: true })));
    } catch (fault) {
      render(said, html`<p class="problem" role="alert">${Object.values(fault.fields ?? {}).flat().join(' ') || fault.message}</p>`);
    }
  });
  on(root, 'click', '[data-do=bring]', async () => {
    const done = await api.bringStock(chosen);
    context.say(`${many(done.rows, 'row')} kept${done.faults.length ? `, ${done.faults.length} not` : ''}.`);
    context.again();
  });
  on(root, 'click', '[data-undo]', async (button) => {
    if (!await ask({ title: 'Take this file back?', words: 'Take it back', body: html`<p>Its rows are taken off again by lines of their own. What was used since stays.</p>` })) return;
    const done = await api.undoStock(button.dataset.undo);
    context.say(`${many(done.gone, 'line')} taken back${done.kept.length ? `; ${many(done.kept.length, 'line')} stay: ${done.kept.map((one) => `${one.name} (${one.why})`).slice(0, 3).join(', ')}` : ''}.`);
    context.again();
  });
  return { title: 'Stock' };
}

function order({ to_order: list }) {
  if (!list.length) return html`<p class="hint">Nothing: what is on hand and on order is enough.</p>`;
  return html`<ul class="st-order">${list.map((one) => html`<li><b>${one.words}</b> ${one.item_id ? html`<a href="#/stock/${one.item_id}">${one.name}${one.size ? ` ${one.size}` : ''}</a>` : `${one.name}${one.size ? ` ${one.size}` : ''}`}<span class="hint block">${one.why}</span></li>`)}</ul>
    <p><a class="second" href="${api.stockFile('order')}" download>The list, CSV</a></p>`;
}

function coming({ recasts, needs, to }) {
  if (!recasts.length) return html`<p class="hint">No recast is planned and no clock runs out until ${fullDay(to)}.</p>`;
  return html`<p>${many(recasts.length, 'recast')} until ${fullDay(to)}: ${recasts.map((one, n) => html`${n ? ', ' : ''}<a href="#/limbs/${one.limb_id}/plan">${one.name}</a> ${day(one.on)}`)}</p>
    <div class="st-wide" tabindex="0" role="region" aria-label="What they need"><table class="st-needs"><thead><tr><th scope="col">Needed</th><th scope="col">How many</th><th scope="col">There</th><th scope="col">Ordered</th><th scope="col">Short</th></tr></thead>
    <tbody>${needs.map((one) => html`<tr><th scope="row">${one.what}${one.size ? ` ${one.size}` : ''}</th><td>${one.count}</td><td>${one.there}</td><td>${one.ordered}</td><td>${one.short ? html`<strong>${one.short}</strong>` : 'none'}</td></tr>`)}</tbody></table></div>
    <p class="hint">A lot that ends within these weeks is not counted. What a recast needs is judgement; sizes are the circumference measured.</p>`;
}

function table(items) {
  if (!items.length) return html`<p class="hint">None of these.</p>`;
  return html`<div class="st-wide" tabindex="0" role="region" aria-label="Items on hand"><table class="st-items"><thead><tr><th scope="col">Item</th><th scope="col">On hand</th><th scope="col">On order</th><th scope="col">Least</th><th scope="col">Lots</th></tr></thead>
    <tbody>${items.slice(0, MOST_SHOWN).map((one) => html`<tr class="${one.on_hand < one.least ? 'low' : ''}"><th scope="row"><a href="#/stock/${one.id}">${one.name}${one.size ? ` ${one.size}` : ''}</a><span class="hint block">${KIND[one.kind]}${one.maker ? `, ${one.maker}` : ''}</span></th>
      <td><b>${one.on_hand_words}</b>${one.on_hand < one.least ? html`<span class="hint block">below the least</span>` : ''}</td>
      <td>${one.on_order ? one.on_order_words : ''}</td><td>${one.least ? one.least / (one.counted_in === 'pair' ? 2 : 1) : ''}</td><td>${one.lots.filter(({ lot, expires_on: ends }) => lot || ends).map(lotWords)}</td></tr>`)}</tbody></table></div>
    ${items.length > MOST_SHOWN ? html`<p class="hint">${items.length - MOST_SHOWN} more: find them by name, kind or lot.</p>` : ''}`;
}

/** A lot that ends within the weeks the list looks ahead is named before it does. */
const SOON_DAYS = 28;
const soon = ({ expires_on: ends }) => ends && ends <= later(today(), SOON_DAYS);
const lotWords = (one) => html`<span class="st-lot${one.over ? ' over' : soon(one) ? ' soon' : ''}">${one.lot || 'no lot'}: ${one.on_hand}${one.expires_on ? `, ${one.over ? 'was good until' : soon(one) ? 'only good until' : 'good until'} ${fullDay(one.expires_on)}` : ''}</span>`;

function file() {
  return html`<form class="st-bring"><p class="hint">A CSV file with the columns kind, name, on_hand, and where known size, maker, counted_in (unit or pair), lot, expires_on, least, ply, from_mm, to_mm. “On hand, CSV” above is such a file.</p>
    <label>File<input type="file" name="file" accept=".csv,text/csv" required></label>
    <fieldset><legend>Its numbers are</legend><label class="check"><input type="radio" name="how" value="count" checked> what was counted on the shelf</label><label class="check"><input type="radio" name="how" value="add"> a delivery, to be added</label></fieldset>
    <button class="second">Look at it first</button></form><div data-seen aria-live="polite"></div>`;
}

function seen({ rows, faults, new_items: fresh, moved }) {
  return html`<div class="st-seen"><p><strong>${many(rows, 'row')}</strong> can be kept: ${many(fresh, 'new item')}, ${many(moved, 'count')} changed.</p>
    ${faults.length ? html`<p><strong>${many(faults.length, 'row')}</strong> can’t:</p><ul class="st-faults">${faults.slice(0, 50).map((one) => html`<li>Line ${one.line}${one.name ? `, ${one.name}` : ''}: ${Object.entries(one.fields).map(([name, words]) => `${name}: ${words}`).join(' ')}</li>`)}</ul>` : ''}
    ${rows ? html`<button type="button" class="main" data-do="bring">${faults.length ? 'Bring the good rows' : 'Bring it'}</button>` : ''}</div>`;
}

function fileLine(one, mayBring) {
  return html`<li class="${one.undone_at ? 'gone' : ''}">${one.name}, ${many(one.rows, 'row')}${one.faults.length ? `, ${one.faults.length} left out` : ''} <span class="hint">${one.by}, ${instant(one.at)}${one.undone_at ? `; taken back ${instant(one.undone_at)}` : ''}</span>
    ${mayBring && !one.undone_at ? html`<button type="button" class="plain" data-undo="${one.id}" aria-label="Take back ${one.name}">take back…</button>` : ''}
    ${one.faults.length ? html`<details><summary>Rows left out</summary><ul class="st-faults">${one.faults.slice(0, 50).map((each) => html`<li>Line ${each.line}${each.name ? `, ${each.name}` : ''}: ${Object.entries(each.fields).map(([name, words]) => `${name}: ${words}`).join(' ')}</li>`)}</ul></details>` : ''}</li>`;
}
