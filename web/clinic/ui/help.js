/** The help page of the screen in view: its keys, and how to turn them off. */

import { html, render } from '../../shared/html.js';

export function openHelp(keys, offName) {
  const dialog = document.getElementById('help');
  const listed = Object.entries(keys).filter(([, { words }]) => words);
  const off = localStorage.getItem(offName);
  render(dialog, html`<form method="dialog">
    <h2 id="help-title">Keys on this page</h2>
    <dl class="keys">${listed.map(([key, { words }]) => html`<div><dt><kbd>${key}</kbd></dt><dd>${words}</dd></div>`)}
      <div><dt><kbd>?</kbd></dt><dd>this help</dd></div></dl>
    <label class="check"><input type="checkbox" id="keys-on"${off ? '' : html` checked`}> Use single keys as shortcuts</label>
    <p>Plytide gives no diagnosis. “Steady” is a signal with its numbers beside it; the decision is yours.</p>
    <button class="main" value="close">Close</button></form>`);
  dialog.querySelector('#keys-on').addEventListener('change', (event) => {
    if (event.target.checked) localStorage.removeItem(offName);
    else localStorage.setItem(offName, 'yes');
  });
  dialog.showModal();
}
