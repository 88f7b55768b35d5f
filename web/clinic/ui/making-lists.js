/** The clinic's own steps for each kind of socket, with the maker's instructions in front; every version stays. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { instant } from '../when.js';
import { MADE } from '../words.js';
import { ask } from './ask.js';

const PHASE = { before: 'Before', during: 'Making', after: 'At the fitting' };

export async function show(root, { query, context }) {
  const lists = await api.makingLists();
  const own = lists.find((one) => one.made === query.made) ?? lists.find((one) => one.made === 'direct') ?? lists[0];
  const mayChange = context.staff.role !== 'assistant';
  const off = mayChange ? '' : html` disabled`;
  const row = (step) => html`<li data-code="${step.code ?? ''}"><input value="${step.text}" maxlength="200" aria-label="Step" autocomplete="off"${off}>
    ${mayChange ? html`<button type="button" class="plain" data-up aria-label="Up">↑</button>${own.stops.includes(step.code) ? html`<span class="hint">can stop</span>` : html`<button type="button" class="plain" data-drop aria-label="Take out">take out</button>`}` : ''}</li>`;
  render(root, html`<div class="page mk-lists"><p class="crumb"><a href="#/settings">Clinic</a></p><header class="page-head"><h1>Steps of making a socket</h1></header>
    <nav class="mk-kinds" aria-label="Which kind">${lists.map((one) => html`<a href="#/making-lists?made=${one.made}"${one.made === own.made ? html` aria-current="page"` : ''}>${MADE[one.made]}</a>`)}</nav>
    <p class="hint">${own.own ? `The clinic’s own steps, by ${own.versions[0].by}, ${instant(own.versions[0].at)}.` : 'Plytide’s short steps: common practice and judgement, from no maker. Make them your own.'} A socket begun before keeps the list it was begun with. Steps marked “can stop” can be reworded and moved, not taken out.</p>
    <form class="entry" novalidate><p class="problem" role="alert" hidden></p>
      <div class="field"><label for="list-url">The maker’s instructions: address</label><input id="list-url" name="url" type="url" value="${own.url ?? ''}" maxlength="400" autocomplete="off"${off}></div>
      <div class="field"><label for="list-words">And in your words</label><textarea id="list-words" name="instructions" rows="3" maxlength="2000"${off}>${own.instructions ?? ''}</textarea></div>
      <div class="mk-figures"><div class="field"><label for="list-pin">Least length for a pin, by its maker, mm</label><input id="list-pin" name="pin_least_mm" inputmode="decimal" value="${own.pin_least_mm ?? ''}"${off}></div>
        <div class="field"><label for="list-limit">Weight limit of the material, kg</label><input id="list-limit" name="limit_kg" inputmode="decimal" value="${own.limit_kg ?? ''}"${off}></div></div>
      ${Object.entries(PHASE).map(([phase, words]) => html`<section data-phase="${phase}"><h2>${words}</h2><ol class="mk-edit">${own.steps.filter((one) => one.phase === phase).map(row)}</ol>${mayChange ? html`<button type="button" class="second" data-add>Add a step</button>` : ''}</section>`)}
      <div class="field"><label for="list-wear">First wear schedule, hours a day</label><input id="list-wear" name="wear" value="${(own.wear ?? []).join(', ')}"${off}></div>
      <div class="field"><label for="list-bring">What to bring</label><input id="list-bring" name="bring" value="${own.bring ?? ''}" maxlength="400"${off}></div>
      ${mayChange ? html`<p class="buttons"><button class="main">Keep</button>${own.own ? html`<button type="button" class="second" data-do="ours">Put Plytide’s steps back…</button>` : ''}</p>` : html`<p class="hint">A prosthetist or a manager changes the steps.</p>`}</form>
    ${own.versions.length ? html`<section><h2>Versions</h2><ol>${own.versions.map((one) => html`<li><details><summary>${instant(one.at)}, ${one.by}${one.list ? '' : ': Plytide’s steps put back'}</summary>
      ${one.list ? html`<ol>${one.list.steps.map((step) => html`<li>${PHASE[step.phase]}: ${step.text}</li>`)}</ol>` : ''}</details></li>`)}</ol></section>` : ''}</div>`);

  const problem = root.querySelector('.problem');
  on(root, 'click', '[data-add]', (button) => {
    const list = button.parentElement.querySelector('ol');
    list.insertAdjacentHTML('beforeend', row({ code: null, text: '' }).toString());
    list.lastElementChild.querySelector('input').focus();
  });
  on(root, 'click', '[data-drop]', (button) => button.closest('li').remove());
  on(root, 'click', '[data-up]', (button) => {
    const line = button.closest('li');
    line.previousElementSibling?.before(line);
    button.focus();
  });
  on(root, 'submit', 'form', async (form, event) => {
    event.preventDefault();
    const figure = (name) => (form.elements[name].value.trim() ? Number(form.elements[name].value.replace(',', '.')) : null);
    const steps = [...form.querySelectorAll('[data-phase]')].flatMap((phase) => [...phase.querySelectorAll('li')]
      .map((line) => ({ code: line.dataset.code || null, phase: phase.dataset.phase, text: line.querySelector('input')
        .value.trim() })).filter(({ text }) => text));
    await keep({
      steps, url: form.elements.url.value.trim() || null, instructions: form.elements.instructions.value.trim() || null,
        bring: form.elements.bring.value.trim() || null,
      pin_least_mm: figure('pin_least_mm'), limit_kg: figure('limit_kg'), wear: form.elements.wear.value.split(/[\s,;]+/).filter(Boolean).map(Number),
    }, 'Kept. Sockets begun from now on follow these steps.');
  });
  on(root, 'click', '[data-do=ours]', async () => {
    if (await ask({ title: 'Put Plytide’s steps back?', words: 'Put them back', body: html`<p>The clinic’s own steps count no more; they stay among the versions.</p>` })) await keep({ steps: null }, 'Plytide’s steps are back.');
  });

  let was = own.n;
  async function keep(given, words) {
    try {
      await api.changeMakingList(own.made, given, was);
      context.say(words);
      context.again();
    } catch (fault) {
      was = fault.now?.was ?? was; // kept once more, it is meant
      problem.textContent = [...new Set([fault.message, ...Object.values(fault.fields ?? {}).flat()])].join(' ');
      problem.hidden = false;
      problem.scrollIntoView({ block: 'center' });
    }
  }
  return { title: 'Steps of making a socket' };
}
