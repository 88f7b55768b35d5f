/** A forgotten password: a link by mail. The answer is the same for every name. */

import * as api from '../api.js';
import { html, render } from '../../shared/html.js';

/** `login` as far as it was typed; `back` shows the sign-in again. */
export function show(root, { login, back }) {
  render(root, html`<form class="sign-in" novalidate>
    <h1><img src="tide.svg" alt="" width="40" height="40">Forgotten password</h1>
    <p class="hint" id="forgotten-hint">We send a link to the mail address on your account. With it you choose a new password.</p>
    <p class="problem" role="alert" hidden></p>
    <label>Sign-in name<input name="login" autocomplete="username" autocapitalize="none" spellcheck="false" aria-describedby="forgotten-hint" required value="${login}"></label>
    <button class="main">Send me a link</button>
    <button type="button" class="second" data-do="back">Back to sign-in</button>
    <p class="hint">No mail address on your account? A manager can give you a link, and whoever runs the server can too.</p>
  </form>`);
  const form = root.querySelector('form');
  const problem = root.querySelector('.problem');
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    const button = form.querySelector('button');
    problem.hidden = true;
    const name = form.elements.login.value.trim();
    if (!name) return tell('Type your sign-in name.');
    button.disabled = true;
    try {
      const { message } = await api.passwordMail(name);
      sent(message);
    } catch (fault) {
      tell(Object.values(fault.fields ?? {}).flat()[0] ?? fault.message);
    } finally {
      button.disabled = false;
    }
  });
  root.querySelector('[data-do=back]').addEventListener('click', back);
  form.elements.login.focus();

  function sent(words) {
    render(root, html`<div class="sign-in"><h1 tabindex="-1" aria-describedby="sent"><img src="tide.svg" alt="" width="40" height="40">Look into your mail</h1>
      <p id="sent">${words}</p>
      <p class="hint">Nothing after a few minutes? Look among the unwanted mail. Or ask a manager for a link.</p>
      <button type="button" class="second" data-do="back">Back to sign-in</button></div>`);
    root.querySelector('[data-do=back]').addEventListener('click', back);
    root.querySelector('h1').focus();
  }

  function tell(words) {
    problem.textContent = words;
    problem.hidden = false;
  }
}
