/** One question in a dialog: resolves with the answers by name, or null when it was put aside.
 *
 *  With `keys` ([value, words]) there are several ways to say yes; the one pressed is `key` among the answers.
 */

import { html, on, render } from '../../shared/html.js';

export function ask({ title, body, words, cancel = 'Cancel', keys = [['yes', words]] }) {
  const dialog = document.createElement('dialog');
  dialog.className = 'ask';
  dialog.setAttribute('aria-labelledby', 'ask-title');
  render(dialog, html`<form method="dialog"><h2 id="ask-title">${title}</h2>${body}
    <p class="buttons">${keys.map(([value, text]) => html`<button class="main" value="${value}">${text}</button> `)}
    <button class="second" value="no" type="button" data-cancel>${cancel}</button></p></form>`);
  document.body.append(dialog);
  dialog.showModal();
  on(dialog, 'click', '[data-cancel]', () => dialog.close('no'));
  return new Promise((resolve) => {
    dialog.addEventListener('close', () => {
      const said = keys.some(([value]) => value === dialog.returnValue);
      const given = said ? Object.fromEntries(new FormData(dialog.querySelector('form'))) : null;
      if (given && keys.length > 1) given.key = dialog.returnValue;
      dialog.remove();
      resolve(given);
    }, { once: true });
  });
}
