/** Who works here; a manager adds, lets go, and helps somebody who lost their second factor. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import { ROLE } from '../words.js';
import { ask } from './ask.js';
import { form } from './form.js';

export async function show(root, { context }) {
  const list = await api.staff();
  const decides = context.staff.role !== 'assistant';
  const manages = context.staff.role === 'manager';
  render(root, html`<div class="page person"><p class="crumb"><a href="#/settings">Clinic</a></p><header class="page-head"><h1>Staff</h1></header>
    <ul class="cards">${list.map((one) => html`<li><strong>${one.name}</strong><span>${ROLE[one.role]}</span>${decides && list.length > 1 ? html`<button type="button" class="plain" data-over="${one.id}" data-name="${one.name}">hand over</button> ` : ''}${one.id === context.staff.id ? html`<span class="word">you</span>`
      : manages ? html`<button type="button" class="plain" data-forgot="${one.id}" data-name="${one.name}">forgot password</button> <button type="button" class="plain" data-reset="${one.id}" data-name="${one.name}">lost second factor</button> <button type="button" class="plain" data-left="${one.id}" data-name="${one.name}">has left</button>` : ''}</li>`)}</ul>
    <div class="fresh"></div>
    ${manages ? html`<div class="add"></div>` : html`<p class="hint">A manager adds staff and lets them go.</p>`}</div>`);
  if (manages) {
    form(root.querySelector('.add'), {
      title: 'Add somebody', level: 2, words: 'Add', back: null,
      fields: [
        { name: 'name', label: 'Name', kind: 'text', required: true },
        { name: 'login', label: 'Sign-in name', kind: 'text', required: true },
        { name: 'role', label: 'Role', kind: 'choice', options: Object.entries(ROLE), required: true },
        { name: 'mail', label: 'Mail address', kind: 'email', hint: 'For a link if they forget their password, and for the clinic’s mail. They can change it.' },
      ],
      save: async (values) => {
        const { link } = await api.addStaff(values);
        context.everyone = await api.staff();
        showLink(values.name, link, 'three days');
      },
    });
  }
  on(root, 'click', '[data-over]', async (button) => {
    const others = list.filter(({ id }) => id !== button.dataset.over);
    const given = await ask({
      title: `Hand over from ${button.dataset.name}`, words: 'Hand over',
      body: html`<p>Everybody they look after, and everything open that is assigned to them, goes to:</p><label>Colleague<select name="to">${others.map(({ id, name }) => html`<option value="${id}">${name}</option>`)}</select></label>`,
    });
    if (!given) return;
    const { people, signals } = await api.handOver(button.dataset.over, given.to);
    context.say(`Handed over: ${people} ${people === 1 ? 'person' : 'people'}, ${signals} open ${signals === 1 ? 'signal' : 'signals'}.`);
  });
  on(root, 'click', '[data-left]', async (button) => {
    const sure = await ask({ title: `${button.dataset.name} has left?`, words: 'Yes, shut the door', body: html`<p>Their sessions end at once and they can’t sign in. What they did stays in the record.</p>` });
    if (!sure) return;
    await api.staffLeft(button.dataset.left);
    context.everyone = await api.staff();
    context.again();
  });
  function showLink(name, link, lasts) {
    const fresh = root.querySelector('.fresh');
    render(fresh, html`<h2>A link for ${name}</h2><p>Give it to them and nobody else. They choose their own password with it. It works once, for ${lasts}, and is shown only now.</p>
      <div class="field"><label for="link">Link</label><input id="link" readonly value="${link}"></div><p class="buttons"><button type="button" class="second" data-do="done">I have given it</button></p>`);
    fresh.querySelector('#link').focus();
    fresh.querySelector('#link').select();
  }

  on(root, 'click', '[data-do=done]', () => context.again());
  on(root, 'click', '[data-forgot]', async (button) => {
    const sure = await ask({ title: 'A link for a new password?', words: 'Make the link', body: html`<p>Make sure it is really ${button.dataset.name} who asks. When they use it, all their sessions end. Their second factor stays.</p>` });
    if (!sure) return;
    const { link } = await api.passwordCode(button.dataset.forgot);
    showLink(button.dataset.name, link, '30 minutes');
  });
  on(root, 'click', '[data-reset]', async (button) => {
    const sure = await ask({ title: 'Take the second factor away?', words: 'Take it away', body: html`<p>${button.dataset.name}’s password alone opens their account until they set one up again. Make sure it is really them who asks.</p>` });
    if (!sure) return;
    await api.resetSecondFactor(button.dataset.reset);
    context.say('Their password alone opens now.');
  });
  return { title: 'Staff' };
}
