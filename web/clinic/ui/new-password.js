/** A password of one's own: with a one-time link, or at the first sign-in in place of the one that was given. */

import * as api from '../api.js';
import { html, render } from '../../shared/html.js';

/** `code` from the link; without one somebody is signed in with a first password. `shortest` where it is known;
 *  `done` goes on. */
export function show(root, { code = null, shortest = null, done }) {
  render(root, html`<form class="sign-in" novalidate>
    <h1><img src="tide.svg" alt="" width="40" height="40">Choose your password</h1>
    <p class="hint" id="new-hint">${shortest ? `At least ${shortest} characters. ` : ''}Four words that do not belong together are good.${code ? ' The link works once.' : ' Nobody else will know it.'}</p>
    <p class="problem" role="alert" hidden></p>
    ${code ? '' : html`<label>The password you were given<input name="password" type="password" autocomplete="current-password" required></label>`}
    <label>New password<input name="new_password" type="password" autocomplete="new-password" minlength="${shortest ?? 1}" aria-describedby="new-hint" required></label>
    <label>New password, once more<input name="again" type="password" autocomplete="new-password" required></label>
    <button class="main">Keep it</button>
    ${code ? html`<p><a class="plain" href="/clinic/">Back to sign-in</a></p>` : ''}
  </form>`);
  const form = root.querySelector('form');
  const problem = root.querySelector('.problem');
  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    problem.hidden = true;
    const { password, new_password: chosen, again } = Object.fromEntries(new FormData(form));
    if (chosen !== again) return tell('The two new passwords differ. Type them again.');
    try {
      if (code) await api.passwordByCode(code, chosen);
      else await api.changePassword({ password, new_password: chosen });
      await done();
    } catch (fault) {
      tell(Object.values(fault.fields ?? {}).flat()[0] ?? fault.message);
    }
  });

  function tell(words) {
    problem.textContent = words;
    problem.hidden = false;
  }
}
