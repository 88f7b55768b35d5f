/** The bar on top of every screen. */

import { html } from '../../shared/html.js';

const PLACES = [['today', 'Today'], ['people', 'People'], ['calendar', 'Visits'], ['chair-time', 'Chair time'], ['settings', 'Clinic']];

export function bar({ staff, clinic }, here) {
  return html`<a class="name" href="#/today"><img src="tide.svg" alt="" width="26" height="26">Plytide</a>
    <nav aria-label="Main">${PLACES.map(([path, words]) => html`<a href="#/${path}"${
      path === here ? html` aria-current="page"` : ''}>${words}</a>`)}</nav>
    <span class="where">${clinic.name}</span>
    <a class="who" href="#/me">${staff.name}</a>
    <button type="button" class="plain" data-do="help" aria-label="Help and keys">?</button>
    <button type="button" class="plain" data-do="sign-out">Sign out</button>`;
}
