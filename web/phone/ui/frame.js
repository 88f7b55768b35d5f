/** The frame of every screen: whose diary it is, help in the same place always, what is below the thumb. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';

const NAV = ['home', 'days', 'story', 'more'];

const ICONS = {
  home: html`<svg aria-hidden="true" viewBox="0 0 24 24"><path d="M5 4v12a4 4 0 0 0 4 4h6a4 4 0 0 0 4-4V4M5 12q2.3-2.5 4.7 0t4.6 0 4.7 0"/></svg>`,
  days: html`<svg aria-hidden="true" viewBox="0 0 24 24"><path d="M8 6h12M8 12h12M8 18h12M4 6h.01M4 12h.01M4 18h.01"/></svg>`,
  story: html`<svg aria-hidden="true" viewBox="0 0 24 24"><path d="M3 8c3 0 3 5 7 5s4 4 11 4M3 20h18"/></svg>`,
  more: html`<svg aria-hidden="true" viewBox="0 0 24 24"><path d="M4 7h10M18 7h2M4 17h2M10 17h10M16 5v4M8 15v4"/></svg>`,
};

/** `back`: the verb of the back key. `foot`: the keys below the thumb; without it the four places of the app. */
export function frame(view, { title, body, foot, back, lead, about, reach = false }) {
  return html`
    <header class="top">
      ${back
        ? html`<button class="quiet back" id="back" data-do="${back}"><span aria-hidden="true" class="arrow"></span>${say('back')}</button>`
        : html`<span class="mark"><svg aria-hidden="true" viewBox="0 0 48 48" class="mark-picture"><path class="rim" d="M8 10 V34 A8 8 0 0 0 16 42 H32 A8 8 0 0 0 40 34 V10"/><path class="tide" d="M9 24 q4 -5 8 0 t8 0 t8 0 t6 -1 V34 a7 7 0 0 1 -7 7 H16 a7 7 0 0 1 -7 -7 z"/></svg>${view.person ? view.person.name : 'Plytide'}</span>`}
      ${view.helps ? html`<button class="help" id="help" data-do="go" data-screen="help">${say('help.key')}</button>` : ''}
    </header>
    <main id="main" tabindex="-1" class="${reach ? 'reach' : ''}">
      ${view.notices.map((notice) => html`<p class="notice ${notice.kind ?? ''}">${notice.text}${notice.verb
        ? html` <button class="link" data-do="${notice.verb}">${notice.key}</button>` : ''}</p>`)}
      <div>${about ? html`<p class="about">${about}</p>` : ''}<h1 id="title" tabindex="-1">${title}</h1></div>
      ${lead ? html`<p class="lead">${lead}</p>` : ''}
      ${reach ? html`<div class="answer-area">${body}</div>` : body}
    </main>
    ${foot ? html`<footer class="foot">${foot}</footer>` : ''}
    ${back || !view.person ? '' : html`<nav class="places" aria-label="${say('nav')}">${NAV.map((name) =>
        html`<button id="nav-${name}" data-do="go" data-screen="${name}" aria-current="${view.screen === name ? 'page' : 'false'}">${ICONS[name]}${say(`nav.${name}`)}</button>`)}</nav>`}`;
}

export const primary = (id, verb, text, data = {}) =>
  html`<button class="primary" id="${id}" data-do="${verb}" data-arg="${data.arg ?? ''}">${text}</button>`;

export const secondary = (id, verb, text, data = {}) =>
  html`<button class="secondary" id="${id}" data-do="${verb}" data-arg="${data.arg ?? ''}">${text}</button>`;

/** A key that is on or off. */
export const choice = (id, verb, arg, text, on, extra = '') =>
  html`<button class="key ${extra}" id="${id}" data-do="${verb}" data-arg="${arg}" aria-pressed="${on ? 'true' : 'false'}">${text}</button>`;
