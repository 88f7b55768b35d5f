/** Waiting, nothing there, and what went wrong. */

import { html } from '../../shared/html.js';

export const loading = () => html`<div class="notice" aria-busy="true"><h1>Fetching…</h1></div>`;

export const empty = (words, deed = '') => html`<div class="notice empty"><p>${words}</p>${deed}</div>`;

export function faultNotice(fault) {
  const gone = fault.status === 404;
  return html`<div class="notice fault" role="alert">
    <h1>${gone ? 'Not here' : 'This page could not be fetched'}</h1>
    <p>${gone ? 'Your clinic has nothing at this address.' : fault.status === undefined ? 'Part of the page could not be fetched from the clinic’s server.' : fault.message}</p>
    <p>${gone ? '' : html`<button type="button" class="main" data-do="again">Try again</button>`}
      <a href="#/today">Back to today’s list</a></p>
  </div>`;
}
