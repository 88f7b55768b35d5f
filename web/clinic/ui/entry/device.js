/** A one-time code that joins one phone, large enough to read across a desk, and as a picture to scan. */

import * as api from '../../api.js';
import { html, on, render } from '../../../shared/html.js';
import { instant } from '../../when.js';
import { drawCode } from '../qr.js';

export async function show(root, { params }) {
  const person = await api.person(params.person);
  const others = params.person ? (await api.people({ limit: 200 })).people.filter((one) => one.id !== person.id) : [];
  render(root, html`<div class="entry">
    <p class="crumb"><a href="#/people/${person.id}">${person.name}</a></p>
    <h1>Join a phone for ${person.name}</h1>
    <form class="join"><fieldset><legend>Whose phone is it?</legend>
      <label class="check"><input type="radio" name="role" value="wearer" checked> ${person.name}’s own</label>
      <label class="check"><input type="radio" name="role" value="caregiver"> somebody’s who looks after them</label></fieldset>
      <details class="also"><summary>The same phone writes for others too</summary>
        <div class="checks">${others.map((one) => html`<label class="check"><input type="checkbox" name="also" value="${one.id}"> ${one.name}</label>`)}</div></details>
      <p class="problem" role="alert" hidden></p>
      <button class="main">Make a code</button></form>
    <section class="code" aria-live="polite"></section></div>`);

  on(root, 'submit', '.join', async (form, event) => {
    event.preventDefault();
    const given = new FormData(form);
    const problem = form.querySelector('.problem');
    problem.hidden = true;
    try {
      const code = await api.addToPerson(person.id, 'enrolment-codes', { role: given.get('role'), person_ids: given.getAll('also') });
      render(root.querySelector('.code'), codeCard(code));
      drawCode(root.querySelector('.qr-place'), code.qr_svg);
    } catch (fault) {
      problem.textContent = fault.message;
      problem.hidden = false;
    }
  });
  return { title: 'Join a phone' };
}

function codeCard({ code, expires_at: until, url }) {
  return html`<h2>Point the phone’s camera here</h2>
    <div class="qr-place" role="img" aria-label="Code to scan: ${code}"></div>
    <p>or open <b>${new URL(url).origin}/phone/</b> and type</p>
    <p class="letters">${code}</p>
    <p class="hint">Works once, until ${instant(until)}. It is shown only here and only now.</p>`;
}
