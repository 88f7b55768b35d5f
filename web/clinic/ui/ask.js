/** One question in a dialog: resolves with the answers by name, or null when it was put aside. */

import { html, on, render } from '../../shared/html.js';

export function ask({ title, body, words, cancel = 'Cancel' }) {
  const dialog = document.createElement('dialog');
  dialog.className = 'ask';
  dialog.setAttribute('aria-labelledby', 'ask-title');
  render(dialog, html`<form method="dialog"><h2 id="ask-title">${title}</h2>${body}
    <p class="buttons"><button class="main" value="yes">${words}</button>
    <button class="second" value="no" type="button" data-cancel>${cancel}</button></p></form>`);
  document.body.append(dialog);
  dialog.showModal();
  on(dialog, 'click', '[data-cancel]', () => dialog.close('no'));
  return new Promise((resolve) => {
    dialog.addEventListener('close', () => {
      const given = dialog.returnValue === 'yes' ? Object.fromEntries(new FormData(dialog.querySelector('form'))) : null;
      dialog.remove();
      resolve(given);
    }, { once: true });
  });
}
