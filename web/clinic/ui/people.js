/** Everybody of the clinic, by name. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { limbName, TAG } from '../words.js';
import { empty } from './notice.js';

export async function show(root, { query, context }) {
  let asked = query.q ?? '';
  let list = await api.people({ q: asked });
  let typing = null;
  render(root, html`<div class="page"><header class="page-head"><h1>People</h1><span class="buttons">${context.staff.role === 'assistant' ? '' : html`<a class="second" href="#/people/bring">Bring a caseload</a>`}<a class="main" href="#/people/new">Add a person</a></span></header>
    <form class="filters" role="search"><label>Name<input type="search" name="q" id="search" value="${asked}" autocomplete="off"></label></form>
    <div class="found"></div></div>`);

  function draw() {
    render(root.querySelector('.found'), list.people.length
      ? html`<ul class="people">${list.people.map(row)}</ul>${list.next ? html`<p class="more"><button type="button" class="second" data-do="more">Show more</button></p>` : ''}`
      : empty(asked ? 'Nobody has this name.' : 'Nobody is here yet.', asked ? '' : html`<a class="main" href="#/people/new">Add the first person</a>`));
  }

  draw();
  on(root, 'submit', 'form', (_form, event) => event.preventDefault());
  on(root, 'input', '[name=q]', (field) => {
    clearTimeout(typing);
    typing = setTimeout(async () => {
      asked = field.value.trim();
      list = await api.people({ q: asked });
      draw();
    }, 200);
  });
  on(root, 'click', '[data-do=more]', async () => {
    const more = await api.people({ q: asked, next: list.next });
    list = { ...more, people: [...list.people, ...more.people] };
    draw();
  });
  return { title: 'People', leave: () => clearTimeout(typing),
    keys: { '/': { words: 'search by name', act: () => root.querySelector('#search').focus() } } };
}

function row(person) {
  return html`<li><a class="name" href="#/people/${person.id}">${person.name}</a>
    <span class="limbs">${person.limbs.length ? person.limbs.map((limb) => html`<a href="#/limbs/${limb.id}">${limbName(limb)}</a> `)
      : html`<span class="hint">no limb entered yet</span>`}</span>
    <span class="hint">${person.tags.map((tag) => TAG[tag] ?? tag).join(', ')}</span></li>`;
}
