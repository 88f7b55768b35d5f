/** One item of the stock: what moves it, and its ledger. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { fullDay, instant } from '../when.js';
import { despite } from './entry/despite.js';
import { form } from './form.js';
import { newId } from './new-id.js';
import { itemFields, itemValues, KIND } from './stock.js';

const DEED = {
  received: 'came in', ordered: 'ordered', order_off: 'order taken off', counted: 'counted', used: 'used without a socket', returned: 'sent back to the supplier',
  expired: 'thrown away: over its day', taken: 'taken by a socket', given_back: 'given back by a socket', undone: 'a file taken back',
};
const ASKED = ['received', 'ordered', 'used', 'counted', 'returned', 'expired', 'order_off'];

export async function show(root, { params, context }) {
  const [all, { item, movements }] = await Promise.all([api.stockItems(), api.stockMovements(params.item)]);
  const now = all.find((one) => one.id === params.item);
  const name = `${item.name}${item.size ? ` ${item.size}` : ''}`;
  let id = newId();
  render(root, html`<div class="page st-page"><p class="crumb"><a href="#/stock">Stock</a></p><header class="page-head"><h1>${name}</h1></header>
    <p>${KIND[item.kind]}${item.maker ? `, ${item.maker}` : ''}. ${now ? html`<b>${now.on_hand_words}</b> on hand${now.on_order ? `, ${now.on_order_words} on order` : ''}${now.expired ? html`, <strong>${now.expired} over the day</strong>` : ''}.` : 'Kept no more.'}</p>
    ${now ? html`<form class="st-move"><p class="problem" role="alert" hidden></p>
      <label>What happened<select name="deed" id="deed">${ASKED.map((one) => html`<option value="${one}">${DEED[one]}</option>`)}</select></label>
      <label>How many<input name="count" id="count" type="number" min="0" value="1" required></label>
      <label>In<select name="counted_in" id="counted-in">${[['unit', 'pieces'], ['pair', 'pairs']].map(([code, words]) => html`<option value="${code}"${code === item.counted_in ? html` selected` : ''}>${words}</option>`)}</select></label>
      <label>Lot<input name="lot" maxlength="60" autocomplete="off" list="lots"></label><datalist id="lots">${now.lots.filter(({ lot }) => lot).map(({ lot }) => html`<option value="${lot}">`)}</datalist>
      <label>Good until<input name="expires_on" type="date"></label><label class="wide">Why, where it is not plain<input name="reason" maxlength="400" autocomplete="off"></label><button class="main">Keep</button></form>` : ''}
    <section><h2>Ledger</h2>${movements.length ? html`<div class="st-wide" tabindex="0" role="region" aria-label="Ledger"><table class="st-items">
      <thead><tr><th scope="col">When</th><th scope="col">What</th><th scope="col">On hand</th><th scope="col">On order</th><th scope="col">Lot</th></tr></thead>
      <tbody>${movements.map((one) => html`<tr><th scope="row">${instant(one.at)}<span class="hint block">${one.by}</span></th>
        <td>${DEED[one.deed] ?? one.deed}${one.reason ? html`<span class="hint block">${one.reason}</span>` : ''}</td><td>${signed(one.hand)}</td><td>${signed(one.on_order)}</td><td>${one.lot}${one.expires_on ? html` <span class="hint">${fullDay(one.expires_on)}</span>` : ''}</td></tr>`)}</tbody></table></div>
      <p class="hint">In single pieces. Lines are only added: a mistake is counted right.</p>` : html`<p class="hint">Nothing has moved yet.</p>`}</section>
    <details id="st-change"><summary>Change the item</summary><div data-change></div></details></div>`);
  form(root.querySelector('[data-change]'), {
    title: 'The item', level: 2, words: 'Keep', fields: itemFields(item),
    extra: now ? html`<p><button type="button" class="second" data-do="close">Keep it no more</button></p>` : '',
    save: async (values) => {
      await api.changeStockItem(item.id, itemValues(values));
      context.say('Kept.');
      context.again();
    },
  });
  on(root, 'submit', '.st-move', async (own, event) => {
    event.preventDefault();
    const { deed, count, ...rest } =
      Object.fromEntries([...new FormData(own)].map(([field, text]) => [field, text.trim() || null]));
    const problem = own.querySelector('.problem');
    try {
      const kept = await despite((reason) =>
        api.moveStock(item.id, { id, deed, count: Number(count), ...rest, ...reason }), 'Keep it all the same');
      if (!kept) return;
      id = newId();
      context.say('Kept.');
      context.again();
    } catch (fault) {
      problem.textContent = Object.values(fault.fields ?? {})[0]?.[0] ?? fault.message;
      problem.hidden = false;
    }
  });
  on(root, 'click', '[data-do=close]', async () => {
    try {
      await api.changeStockItem(item.id, { closed: true });
    } catch (fault) {
      return context.say(Object.values(fault.fields ?? {})[0]?.[0] ?? fault.message);
    }
    context.say('It is kept no more; its ledger stays.');
    context.go('stock');
  });
  return { title: name };
}

const signed = (count) => (count ? `${count > 0 ? '+' : '−'}${Math.abs(count)}` : '');
