/** Name, password, and a one-time code where the clinic uses one. */

import * as api from '../api.js';
import { html, render } from '../../shared/html.js';
import * as passkey from '../passkey.js';

export function show(root, { signedIn }) {
  render(root, html`<form class="sign-in" novalidate>
    <h1><img src="tide.svg" alt="" width="40" height="40">Plytide <span>for the clinic</span></h1>
    <p class="problem" role="alert" hidden></p>
    <label>Sign-in name<input name="login" autocomplete="username" autocapitalize="none" spellcheck="false" required></label>
    <label>Password<input name="password" type="password" autocomplete="current-password" required></label>
    <label data-code hidden>Code of your app, or a recovery code<input name="code" autocomplete="one-time-code" autocapitalize="none" spellcheck="false"></label>
    <button class="main">Sign in</button>
    ${passkey.canUse() ? html`<button type="button" class="second" data-do="use-passkey">Use a passkey</button>` : ''}
    <p><button type="button" class="plain" data-do="forgotten">Forgotten password?</button></p>
    <p class="hint"><a href="/phone/">For wearers and caregivers: the phone app</a></p>
  </form>`);
  const form = root.querySelector('form');
  const problem = root.querySelector('.problem');
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    const given = Object.fromEntries(new FormData(form));
    if (!given.code) delete given.code;
    const button = form.querySelector('button');
    problem.hidden = true;
    if (!given.login || !given.password) return tell('Type your sign-in name and your password.');
    button.disabled = true;
    try {
      await signedIn(await api.signIn(given));
    } catch (fault) {
      if (fault.fields?.code) {
        root.querySelector('[data-code]').hidden = false;
        form.elements.code.focus();
      }
      tell(fault.fields?.code?.[0] ?? fault.message);
    } finally {
      button.disabled = false;
    }
  });

  root.querySelector('[data-do=forgotten]').addEventListener('click', async () => {
    const { show: forgotten } = await import('./forgotten.js');
    forgotten(root, {
      login: form.elements.login.value,
      back: () => {
        show(root, { signedIn });
        root.querySelector('input').focus();
      },
    });
  });

  root.querySelector('[data-do=use-passkey]')?.addEventListener('click', async () => {
    problem.hidden = true;
    try {
      const begun = await api.passkeyOptions();
      const credential = await passkey.use(begun.options);
      await signedIn(await api.signInByPasskey({ challenge_id: begun.challenge_id, credential }));
    } catch (error) {
      tell(passkey.wasStopped(error) ? 'No passkey was given. Sign in with your password, or try again.' : error.message);
    }
  });

  function tell(words) {
    problem.textContent = words;
    problem.hidden = false;
  }
}
