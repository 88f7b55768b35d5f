/** A letter written from a limb: the kind is chosen, the filled text read and mended, then it is kept and printed. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { instant } from '../when.js';
import { limbName } from '../words.js';

export async function show(root, { params, query, context }) {
  const [story, kept, draft, before] = await Promise.all([
    api.limb(params.limb), api.letters(params.limb), api.letterDraft(params.limb, query.kind), query.replaces
      ? api.letter(query.replaces) : null,
  ]);
  // a second press keeps no second letter
  const id = [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  let seen = null; // the text whose figures without a date were pointed out
  const begun = before ? { ...draft, ...before.content } : draft;
  const mayKeep = context.staff.role !== 'assistant';
  render(root, html`<div class="page letter">
    <p class="crumb"><a href="#/limbs/${story.limb.id}">${story.person.name}</a></p>
    <header class="page-head"><h1>A letter about <bdi>${story.person.name}</bdi></h1><span class="buttons"><a class="second" href="#/letter-templates?kind=${draft.kind}">The clinic’s templates</a></span></header>
    <p class="hint">${limbName(story.limb)}. Filled with what is known today; read it through and change what you like.</p>
    ${before ? html`<p class="heed">This takes the place of the letter of ${before.on}, and says so.</p>` : html`<nav class="kinds-row" aria-label="Which letter">${draft.kinds.map(({ kind, name }) => html`<a href="#/limbs/${story.limb.id}/letter?kind=${kind}"${
      kind === draft.kind ? html` aria-current="page"` : ''}>${name}</a>`)}</nav>`}
    <form class="entry letter" novalidate><p class="problem" role="alert" hidden></p>
      ${!before && draft.lacks.length ? html`<div class="heed"><p>Nothing is known of these, and the letter says so:</p><ul>${draft.lacks.map((one) => html`<li>${one.says}</li>`)}</ul></div>` : ''}
      ${box('to', 'To', html`<textarea id="letter-to" name="to" rows="3" maxlength="400" dir="auto" aria-describedby="fault-to">${begun.to}</textarea>`)}
      ${box('subject', 'Subject', html`<input id="letter-subject" name="subject" maxlength="160" dir="auto" autocomplete="off" value="${begun.subject}" aria-describedby="fault-subject">`)}
      ${box('text', 'Letter', html`<textarea id="letter-text" name="text" rows="24" maxlength="8000" dir="auto" aria-describedby="fault-text basis">${begun.text}</textarea>`)}
      <p class="hint" id="basis">Below every letter stands: ${draft.basis}</p>
      ${mayKeep ? html`<p class="hint">Once kept it can’t be changed. A new letter can take its place.</p>
      <p class="buttons"><button class="main">Keep it, then print</button> <a class="second" href="#/limbs/${story.limb.id}">Cancel</a></p>` : html`<p class="hint">A prosthetist or a manager keeps and sends letters. You can read this one, and those kept before.</p>`}</form>
    <section><h2>Letters kept</h2>${kept.length ? html`<ol class="notes">${kept.map((one) => html`<li><a href="#/letters/${one.id}">${one.name}, ${one.on}</a>${one.replaced ? html` <span class="word">another took its place</span>` : ''}
      <span class="hint block"><bdi>${one.subject}</bdi>${one.to ? html`, to <bdi>${one.to.split('\n')[0]}</bdi>` : ''}. By ${one.by}, ${instant(one.at)}</span></li>`)}</ol>` : html`<p class="hint">None yet.</p>`}</section></div>`);

  on(root, 'submit', 'form.letter', async (form, event) => {
    event.preventDefault();
    clear(form);
    if (!mayKeep) return;
    const said = Object.fromEntries(['to', 'subject', 'text'].map((name) => [name, form.elements[name].value.trim()]));
    try {
      await api.keepLetter(story.limb.id, {
        id, kind: before?.kind ?? draft.kind, ...said, to: said.to || null, replaces: before?.id ?? null,
          undated_seen: seen === said.text,
      });
      context.say('The letter is kept as it stands.');
      context.go(`letters/${id}`, { instead: true });
    } catch (fault) {
      if (fault.fields?.text) seen = said.text;
      tell(form, fault);
    }
  });
  return { title: `A letter about ${story.person.name}`, keys: { b: { words: 'back to the limb', act: () => context.go(`limbs/${story.limb.id}`) } } };
}

const box = (name, words, input) => html`<div class="field"><label for="letter-${name}">${words}</label>${input}<span class="fault" id="fault-${name}"></span></div>`;

function clear(form) {
  form.querySelector('.problem').hidden = true;
  for (const place of form.querySelectorAll('.fault')) place.textContent = '';
  for (const own of form.querySelectorAll('[aria-invalid]')) own.removeAttribute('aria-invalid');
}

/** What went wrong, at its box where there is one. */
export function tell(form, fault) {
  if (!fault.fields) throw fault;
  const lost = [];
  for (const [name, words] of Object.entries(fault.fields)) {
    const place = form.querySelector(`#fault-${CSS.escape(name)}`);
    if (place) {
      place.textContent = words.join(' ');
      form.elements[name].setAttribute('aria-invalid', 'true');
    } else lost.push(words.join(' '));
  }
  const problem = form.querySelector('.problem');
  problem.textContent = [fault.message, ...lost].join(' ');
  problem.hidden = false;
  (form.querySelector('[aria-invalid]') ?? problem).focus?.();
}
