/** The clinic's words for each kind of letter, and the fields they can ask for. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { instant } from '../when.js';
import { ask } from './ask.js';
import { tell } from './letter.js';

export async function show(root, { query, context }) {
  const { templates, fields, basis } = await api.letterTemplates();
  const one = templates.find(({ kind }) => kind === query.kind) ?? templates[0];
  const mayChange = context.staff.role !== 'assistant';
  render(root, html`<div class="page letter">
    <p class="crumb"><a href="#/settings">Clinic</a></p><header class="page-head"><h1>Letters: the clinic’s templates</h1></header>
    <nav class="kinds-row" aria-label="Which letter">${templates.map(({ kind, name }) => html`<a href="#/letter-templates?kind=${kind}"${kind === one.kind ? html` aria-current="page"` : ''}>${name}</a>`)}</nav>
    <p class="hint">${one.own ? `The clinic’s own words, by ${one.by}, ${instant(one.at)}.` : 'Plytide’s words; nobody has changed them.'} What stands in braces is filled in for each person, with its dates. Where nothing is known, the letter says “not measured”.</p>
    <form class="entry letter" novalidate><p class="problem" role="alert" hidden></p>
      <div class="field"><label for="template-text">${one.name}</label><textarea id="template-text" name="text" rows="24" maxlength="8000" dir="auto" aria-describedby="fault-text basis"${mayChange ? '' : html` readonly`}>${one.text}</textarea><span class="fault" id="fault-text"></span></div>
      <p class="hint" id="basis">Below every letter stands, whatever the template says: ${basis}</p>
      ${mayChange ? html`<p class="buttons"><button class="main">Keep</button>${one.own ? html` <button type="button" class="second" data-do="ours">Put Plytide’s words back…</button>` : ''}</p>` : html`<p class="hint">A prosthetist or a manager changes templates.</p>`}</form>
    <section><h2>Fields</h2><ul class="fields-list">${fields.map(({ name, says }) => html`<li>${mayChange ? html`<button type="button" class="plain" data-field-name="${name}">{${name}}</button>` : html`<code>{${name}}</code>`} <span class="hint block">${says}</span></li>`)}</ul></section></div>`);

  let was = one.text;
  const keep = async (text, words) => {
    const said = await api.changeLetterTemplate(one.kind, text, was).catch((fault) => {
      was = fault.now?.text ?? was; // kept once more, it is meant
      throw fault;
    });
    context.say(said.undated.length ? `${words} A figure in it has no date: “${said.undated[0]}”` : words);
    context.again();
  };
  on(root, 'submit', 'form.letter', async (form, event) => {
    event.preventDefault();
    if (!mayChange) return;
    try {
      await keep(form.elements.text.value, 'Kept. Letters written from now on begin with it.');
    } catch (fault) {
      tell(form, fault);
    }
  });
  on(root, 'click', '[data-do=ours]', async () => {
    if (await ask({ title: 'Put Plytide’s words back?', words: 'Put them back', body: html`<p>The clinic’s words for this letter count no more. Letters already kept stay as they are.</p>` })) await keep(null, 'Plytide’s words are back.');
  });
  on(root, 'click', '[data-field-name]', (button) => {
    const box = root.querySelector('#template-text');
    box.setRangeText(`{${button.dataset.fieldName}}`, box.selectionStart, box.selectionEnd, 'end');
    box.dispatchEvent(new Event('input', { bubbles: true }));
    box.focus();
  });
  return { title: 'Letters: templates' };
}
