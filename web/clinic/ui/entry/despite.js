/** What stands against a socket is asked about: "go on?", with the reason why, which is kept with it. */

import { html } from '../../../shared/html.js';
import { ask } from '../ask.js';

/** Send; where something stands against it, ask and send once more with the reason for what was shown, until nothing
 * else stands there. Resolves to null when put aside. */
export async function despite(send, words, why = {}) {
  try {
    return await send(why);
  } catch (fault) {
    if (fault.code !== 'stands-against') throw fault;
    const given = await ask({
      title: 'This stands against it: go on?', words, cancel: 'Back to the form',
      body: html`<ul class="against">${fault.against.map((one) => html`<li>${one.text}</li>`)}</ul>
        <label>Why you go on<textarea name="reason" rows="2" minlength="3" maxlength="400" required></textarea></label>
        <p class="hint">Your reason is kept with the socket, and stands in the limb’s story.</p>`,
    });
    const of = fault.against.map(({ text }) => text);
    return given && despite(send, words, { despite: { reason: given.reason.trim(), of } });
  }
}
