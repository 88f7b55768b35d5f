/** One's own way in: second factors, where one is signed in, the password. */

import * as api from '../api.js';
import { html, on, render } from '../../shared/html.js';
import * as passkey from '../passkey.js';
import { instant } from '../when.js';
import { many, ROLE } from '../words.js';
import { ask } from './ask.js';
import { drawCode } from './qr.js';

const REMIND_UNDER = 4;

export async function show(root, { context }) {
  const [factors, { sessions }, mail] = await Promise.all([api.secondFactor(), api.sessions(), api.ownMail()]);
  render(root, page(context, factors, sessions, mail));

  /** Ask for the password, then do; wrong passwords are said in place. */
  async function confirmed(words, deed) {
    const given = await ask({
      title: 'Your password, once more', words,
      body: html`<label>Password<input type="password" name="password" autocomplete="current-password" required></label>`,
    });
    if (!given) return null;
    try {
      return await deed(given.password);
    } catch (fault) {
      context.say(Object.values(fault.fields ?? {})[0]?.[0] ?? fault.message);
      return null;
    }
  }

  function showCodes(codes) {
    if (!codes?.length) return;
    const place = root.querySelector('.fresh');
    render(place, html`<h3>Your recovery codes</h3><p>Each opens once, if the phone or key is lost. They are shown only now: print them or write them down.</p>
      <ul class="recovery">${codes.map((code) => html`<li>${code}</li>`)}</ul><p class="buttons"><button type="button" class="second" data-do="done">I have them</button></p>`);
    place.tabIndex = -1;
    place.focus();
  }

  on(root, 'click', '[data-do=app]', async () => {
    const begun = await confirmed('Go on', api.beginApp);
    if (!begun) return;
    const place = root.querySelector('.fresh');
    render(place, html`<h3>Scan this with your authenticator app</h3><div class="qr-place" role="img" aria-label="Code to scan for the app"></div>
      <p class="hint">or type this key into it: <b>${begun.secret.replace(/(.{4})/g, '$1 ')}</b></p>
      <form class="confirm"><label>The six figures it shows now<input name="code" inputmode="numeric" autocomplete="one-time-code" required></label>
      <p class="problem" role="alert" hidden></p><button class="main">Turn it on</button></form>`);
    drawCode(place.querySelector('.qr-place'), begun.qr_svg);
    place.querySelector('input').focus();
  });
  on(root, 'submit', '.confirm', async (form, event) => {
    event.preventDefault();
    try {
      const { recovery_codes: codes } = await api.confirmApp(form.elements.code.value);
      context.say('From now on a code of the app is asked for.');
      showCodes(codes);
    } catch (fault) {
      const problem = form.querySelector('.problem');
      problem.textContent = fault.fields?.code?.[0] ?? fault.message;
      problem.hidden = false;
    }
  });
  on(root, 'click', '[data-do=app-off]', async () => {
    if (await confirmed('Remove the app', api.removeApp)) context.again();
  });
  on(root, 'click', '[data-do=codes]', async () => {
    const said = await confirmed('Make new ones', api.renewRecovery);
    if (said) showCodes(said.recovery_codes);
  });
  on(root, 'click', '[data-do=passkey]', async () => {
    const begun = await confirmed('Go on', api.beginPasskey);
    if (!begun) return;
    try {
      const credential = await passkey.make(begun.options);
      const { recovery_codes: codes } = await api.addPasskey({ challenge_id: begun.challenge_id, credential,
        label: navigator.userAgentData?.platform || 'Passkey' });
      context.say('The passkey is kept.');
      if (codes.length) showCodes(codes);
      else context.again();
    } catch (error) {
      context.say(passkey.wasStopped(error) ? 'No passkey was made.' : error.message);
    }
  });
  on(root, 'click', '[data-passkey]', async (button) => {
    if (!await confirmed('Remove the passkey', (password) => api.removePasskey(button.dataset.passkey, password))) return;
    context.say('The passkey is removed.');
    context.again();
  });
  on(root, 'click', '[data-session]', async (button) => {
    await api.endSession(button.dataset.session);
    context.again();
  });
  on(root, 'click', '[data-do=end-others]', async () => {
    const { ended } = await api.endOtherSessions();
    context.say(`${many(ended, 'session')} ended.`);
    context.again();
  });
  on(root, 'click', '[data-do=done]', () => context.again());
  on(root, 'submit', '.password', async (form, event) => {
    event.preventDefault();
    const problem = form.querySelector('.problem');
    problem.hidden = true;
    try {
      const { ended } = await api.changePassword({ password: form.elements.password.value,
        new_password: form.elements.new_password.value });
      form.reset();
      context.say(`The password is changed.${ended ? ` ${many(ended, 'other session')} ended.` : ''}`);
    } catch (fault) {
      problem.textContent = Object.values(fault.fields ?? {}).flat()[0] ?? fault.message;
      problem.hidden = false;
    }
  });
  async function changeMail(address) {
    const box = root.querySelector('#mail');
    const fault = root.querySelector('#mail-fault');
    fault.textContent = '';
    box.removeAttribute('aria-invalid');
    await confirmed(address ? 'Keep the address' : 'Remove the address', async (password) => {
      try {
        await api.changeMail({ password, mail: address });
      } catch (refused) {
        if (!refused.fields?.mail) throw refused;
        fault.textContent = refused.fields.mail[0];
        box.setAttribute('aria-invalid', 'true');
        return box.focus();
      }
      box.value = '';
      context.say(address ? 'The address is kept.' : 'The address is removed.');
      context.again();
    });
  }
  on(root, 'submit', '.mail', (form, event) => {
    event.preventDefault();
    const address = form.elements.mail.value.trim();
    if (address) changeMail(address);
    else form.elements.mail.focus();
  });
  on(root, 'click', '[data-do=no-mail]', () => changeMail(null));
  return { title: 'My sign-in' };
}

function page({ staff, shortestPassword }, factors, sessions, mail) {
  const any = factors.app || factors.passkeys.length;
  return html`<div class="page person"><header class="page-head"><h1>${staff.name}</h1><p class="hint">${staff.login}, ${ROLE[staff.role]}</p></header>
    <section><h2>Second factor</h2>
      <p>${any ? 'A password alone does not open your account.' : 'A password alone opens your account. An app or a passkey beside it keeps others out.'}</p>
      <ul class="cards"><li><strong>Authenticator app</strong><span>${factors.app ? 'on' : 'not set up'}</span>${factors.app
        ? html`<button type="button" class="plain" data-do="app-off">remove</button>` : html`<button type="button" class="second" data-do="app">Set up</button>`}</li>
        ${factors.passkeys.map((one) => html`<li><strong>Passkey: ${one.label}</strong><span>${one.created_at ? `since ${instant(one.created_at)}` : ''}</span><button type="button" class="plain" data-passkey="${one.id}">remove</button></li>`)}
        ${any ? html`<li><strong>Recovery codes</strong><span>${factors.recovery_left} left${factors.recovery_left < REMIND_UNDER ? ', make new ones' : ''}</span><button type="button" class="plain" data-do="codes">make new ones</button></li>` : ''}</ul>
      ${passkey.canUse() ? html`<button type="button" class="second" data-do="passkey">Add a passkey of this computer</button>` : html`<p class="hint">Passkeys need a browser that knows them and a secure address.</p>`}
      <div class="fresh"></div></section>
    <section><h2>Where you are signed in</h2><ul class="cards">${sessions.map((one) => html`<li><strong>${agentWords(one.agent)}</strong>
      <span>since ${instant(one.created_at)}, last used ${instant(one.seen_at)}</span>${one.this ? html`<span class="word">here</span>` : html`<button type="button" class="plain" data-session="${one.id}">end</button>`}</li>`)}</ul>
      ${sessions.length > 1 ? html`<button type="button" class="second" data-do="end-others">End all others</button>` : ''}</section>
    <section><h2>Password</h2><form class="password entry-part"><div class="field"><label for="old">Password now</label><input id="old" type="password" name="password" autocomplete="current-password" required></div>
      <div class="field"><label for="new">New password</label><input id="new" type="password" name="new_password" autocomplete="new-password" required minlength="${shortestPassword}" aria-describedby="new-hint"><span class="hint" id="new-hint">At least ${shortestPassword} characters; a few words are good.</span></div>
      <p class="problem" role="alert" hidden></p><button class="second">Change it</button></form></section>
    <section><h2>Mail address</h2>
      <p>${mail.mail ? html`<strong>${mail.mail}</strong>` : 'None. If you forget your password, you need a manager.'}</p>
      <p class="hint">If you forget your password, a link to choose a new one goes here: use an address that only you read. You also get a word here when your password was changed with a link, and the clinic’s mail about urgent matters and the day’s list. No mail names a wearer.${mail.links ? '' : ' At present this server sends no links.'}</p>
      <form class="mail entry-part" novalidate><div class="field" data-at="mail"><label for="mail">${mail.mail ? 'Another address' : 'Your address'}</label><input id="mail" type="email" name="mail" autocomplete="email" aria-describedby="mail-fault"><span class="fault" id="mail-fault"></span></div>
      <p class="buttons"><button class="second">Keep it</button> ${mail.mail ? html`<button type="button" class="plain" data-do="no-mail">remove the address</button>` : ''}</p></form></section></div>`;
}

/** "Firefox on Linux": what one recognises of a browser's own long name. */
function agentWords(agent) {
  const browser = ['Edg', 'Firefox', 'Chrome', 'Safari'].find((name) => agent.includes(name));
  const system = [['Windows', 'Windows'], ['iPhone', 'iPhone'], ['iPad', 'iPad'], ['Android', 'Android'], ['Mac OS', 'Mac'], ['Linux', 'Linux']].find(([sign]) => agent.includes(sign));
  return `${browser === 'Edg' ? 'Edge' : browser ?? 'A browser'}${system ? ` on ${system[1]}` : ''}`;
}
