/** A letter as it was sent, to read and to print again. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { instant } from '../when.js';

export async function show(root, { params, context }) {
  const one = await api.letter(params.letter);
  const { content } = one;
  const pdf = (paper, words) => html`<a class="second" href="${api.letterAddress(one.id, paper)}" target="_blank" rel="noopener">${words}</a>`;
  render(root, html`<article class="sheet letter-kept">
    <p class="crumb"><a href="#/limbs/${one.limb_id}">The limb</a> · <a href="#/limbs/${one.limb_id}/letter">Letters</a></p>
    <p class="buttons"><button type="button" class="main" data-do="print">Print</button>${pdf('a4', 'PDF, A4')}${pdf('letter', 'PDF, Letter')}
      ${context.staff.role === 'assistant' ? '' : html`<a class="second" href="#/limbs/${one.limb_id}/letter?replaces=${one.id}&amp;kind=${one.kind}">Write one in its place</a>`}</p>
    <p class="hint no-print">${one.name}. Kept as it was sent by ${one.by}, ${instant(one.at)}. It can’t be changed.</p>
    <header><h1>${content.clinic}</h1><p>${content.reach}</p><p class="right">${content.on}</p></header>
    ${content.to ? html`<p class="letter-to" dir="auto">${content.to}</p>` : ''}
    <section><h2 dir="auto">${content.subject}</h2><p dir="auto">${content.about}</p>${content.replaces ? html`<p>${content.replaces}</p>` : ''}</section>
    <section class="letter-text">${content.text.split('\n').map((line) => html`<p dir="auto">${line}</p>`)}</section>
    <footer>${content.basis}</footer></article>`);
  on(root, 'click', '[data-do=print]', () => print());
  return { title: `Letter of ${content.on}`, keys: { b: { words: 'back to the limb', act: () => context.go(`limbs/${one.limb_id}`) } } };
}
