/** The clinic's app: who is signed in, which screen the address asks for, keys, and what was said last. */

import * as api from './api.js';
import { html, on, render } from '../shared/html.js';
import { pressWatch } from '../shared/press.js';
import { ask } from './ui/ask.js';
import { openHelp } from './ui/help.js';
import { bar } from './ui/frame.js';
import { faultNotice, loading } from './ui/notice.js';
import { forget, unkept, watch } from './unkept.js';
import { learn } from './words.js';

/** The address after '#', and the module that shows it. First match wins. */
const SCREENS = [
  ['today', () => import('./ui/worklist.js')],
  ['people', () => import('./ui/people.js')],
  ['people/new', () => import('./ui/entry/person.js')],
  ['people/bring', () => import('./ui/caseload.js')],
  ['people/:person', () => import('./ui/person.js')],
  ['people/:person/edit', () => import('./ui/entry/person.js')],
  ['people/:person/limb', () => import('./ui/entry/limb.js')],
  ['people/:person/phone', () => import('./ui/entry/device.js')],
  ['limbs/:limb', () => import('./ui/limb.js')],
  ['limbs/:limb/edit', () => import('./ui/entry/limb.js')],
  ['limbs/:limb/socket', () => import('./ui/entry/socket.js')],
  ['limbs/:limb/socket/:socket', () => import('./ui/entry/socket-change.js')],
  ['limbs/:limb/pad', () => import('./ui/entry/pad.js')],
  ['limbs/:limb/measure', () => import('./ui/entry/measurement.js')],
  ['limbs/:limb/pocket', () => import('./ui/entry/pocket.js')],
  ['limbs/:limb/outcomes', () => import('./ui/outcome-measures.js')],
  ['limbs/:limb/healing', () => import('./ui/healing.js')],
  ['limbs/:limb/deed', () => import('./ui/entry/intervention.js')],
  ['limbs/:limb/made', () => import('./ui/made.js')],
  ['makings/:making', () => import('./ui/making.js')],
  ['making-lists', () => import('./ui/making-lists.js')],
  ['stock', () => import('./ui/stock.js')],
  ['stock/:item', () => import('./ui/stock-item.js')],
  ['limbs/:limb/plan', () => import('./ui/plan.js')],
  ['limbs/:limb/visit', () => import('./ui/visit-page.js')],
  ['limbs/:limb/payer', () => import('./ui/payer-page.js')],
  ['limbs/:limb/letter', () => import('./ui/letter.js')],
  ['letters/:letter', () => import('./ui/letter-kept.js')],
  ['letter-templates', () => import('./ui/letter-templates.js')],
  ['calendar', () => import('./ui/calendar.js')],
  ['chair-time', () => import('./ui/chair-time.js')],
  ['own-record', () => import('./ui/own-record.js')],
  ['settings', () => import('./ui/settings.js')],
  ['staff', () => import('./ui/staff.js')],
  ['audit', () => import('./ui/audit.js')],
  ['me', () => import('./ui/me.js')],
];

const screen = document.getElementById('screen');
const context = { lastDeed: Date.now(), press: pressWatch(document), chosen: null, staff: null, clinic: null,
  everyone: [], say, go, again: () => show(true) };
const FADE_AFTER_MS = 8000; // of words with nothing to do about them; an undo stays until the next word
let fading = null;
let turn = 0;
let leave = () => {};
let keys = {};

function place() {
  const [path, asked = ''] = location.hash.replace(/^#\/?/, '').split('?');
  return { path: path || 'today', query: Object.fromEntries(new URLSearchParams(asked)) };
}

function match(path) {
  const parts = path.split('/');
  for (const [pattern, load] of SCREENS) {
    const names = pattern.split('/');
    const params = {};
    const fits = names.length === parts.length && names.every((name, i) => {
      if (!name.startsWith(':')) return name === parts[i];
      params[name.slice(1)] = decodeURIComponent(parts[i]);
      return true;
    });
    if (fits) return { load, params };
  }
  return null;
}

/** Go to a screen; with `instead` the one left is not kept in the browser's history. */
function go(path, { instead = false } = {}) {
  const address = `#/${path}`;
  forget();
  if (location.hash === address) show();
  else if (instead) location.replace(address);
  else location.hash = address;
}

/** Say what happened, with at most one thing to do about it. */
function say(text, deed = null) {
  const said = document.getElementById('said');
  clearTimeout(fading);
  if (!deed) fading = setTimeout(() => render(said, ''), FADE_AFTER_MS);
  render(said, text ? html`<p>${text}${deed ? html` <button type="button" data-deed>${deed.words}</button>` : ''}</p>` : '');
  said.querySelector('[data-deed]')?.addEventListener('click', () => {
    render(said, '');
    deed.act();
  }, { once: true });
}

async function show(stay = false) {
  if (!context.staff || place().path === 'new-password') return showSignIn();
  const { path, query } = place();
  const found = match(path);
  const mine = ++turn;
  forget();
  leave();
  leave = () => {};
  keys = {};
  render(document.getElementById('bar'), bar(context, path.split('/')[0]));
  const root = document.createElement('div');
  delete screen.dataset.shows;
  const slow = setTimeout(() => {
    if (mine === turn && !stay) render(screen, loading());
  }, 150);
  try {
    if (!found) throw new api.Fault(404, { message: 'There is no such page.' });
    const module = await found.load();
    const shown = await module.show(root, { params: found.params, query, path, context });
    if (mine !== turn) return shown?.leave?.();
    keys = shown?.keys ?? {};
    leave = shown?.leave ?? leave;
    screen.replaceChildren(root);
    screen.dataset.shows = path;
    document.title = `${shown?.title ?? 'Plytide'} · Plytide clinic`;
    shown?.ready?.();
    if (stay && document.activeElement === document.body) screen.focus({ preventScroll: true });
    if (!stay && !shown?.keepsFocus) {
      window.scrollTo(0, 0);
      screen.focus({ preventScroll: true });
    }
  } catch (fault) {
    if (mine !== turn || fault.name === 'AbortError' || fault.status === 401) return;
    render(screen, faultNotice(fault));
    if (!(fault instanceof api.Fault)) throw fault;
  } finally {
    clearTimeout(slow);
  }
}

async function showSignIn() {
  turn += 1;
  leave();
  leave = () => {};
  keys = {};
  context.staff = null;
  render(document.getElementById('bar'), '');
  const { path, query } = place();
  const root = document.createElement('div');
  if (path === 'new-password' && query.code) {
    history.replaceState(null, '', '#/');
    return showNewPassword(root, { code: query.code }, () => { say('Your password is kept. Sign in with it.'); showSignIn(); });
  }
  const { show: signIn } = await import('./ui/sign-in.js');
  signIn(root, { signedIn: enter });
  screen.replaceChildren(root);
  document.title = 'Sign in · Plytide clinic';
  root.querySelector('input')?.focus();
}

async function showNewPassword(root, given, done) {
  const { show: choose } = await import('./ui/new-password.js');
  choose(root, { ...given, done });
  screen.replaceChildren(root);
  document.title = 'Choose your password · Plytide clinic';
  root.querySelector('input')?.focus();
}

async function enter(said) {
  if (said.new_password_needed) {
    return showNewPassword(document.createElement('div'), { shortest: said.shortest_password },
      async () => enter(await api.session()));
  }
  if (context.staff?.id !== said.staff.id) context.chosen = null;
  context.staff = said.staff;
  context.clinic = said.clinic;
  context.shortestPassword = said.shortest_password;
  learn(said.signal_words, said.words);
  context.everyone = await api.staff();
  show();
}

const KEYS_OFF = 'plytide.keys-off';

function pressed(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented || !context.staff) return;
  if (event.target.closest?.('input, select, textarea, dialog, [contenteditable]')) return;
  if (event.key === '?') return void openHelp(keys, KEYS_OFF);
  if (localStorage.getItem(KEYS_OFF)) return;
  const act = keys[event.key]?.act;
  if (!act) return;
  event.preventDefault();
  act();
}

/** The session ended under a screen: it is covered, not thrown away, so that nothing typed is lost. */
async function lock() {
  if (!context.staff) return showSignIn();
  const { show: signIn } = await import('./ui/sign-in.js');
  if (document.querySelector('dialog.lock')) return;
  const dialog = document.createElement('dialog');
  dialog.className = 'lock';
  dialog.setAttribute('aria-label', 'Sign in again');
  signIn(dialog, {
    signedIn: async (said) => {
      const same = said.staff.id === context.staff.id;
      document.body.classList.remove('locked');
      dialog.close();
      dialog.remove();
      if (!same) await enter(said);
      else if (!unkept()) show(true);
      else say('You are signed in again. What you had typed is still here; press the button once more.');
    },
  });
  dialog.addEventListener('cancel', (event) => event.preventDefault());
  document.body.append(dialog);
  document.body.classList.add('locked');
  dialog.showModal();
}

/** Another address. Something typed and not kept is asked about first, with the old address back in its place. */
async function moved(event) {
  if (!unkept()) return show();
  const there = location.hash;
  history.replaceState(null, '', event.oldURL);
  const sure = await ask({
    title: 'Leave without keeping?', words: 'Leave', cancel: 'Stay here', body: html`<p>What you typed on this page is not kept yet.</p>`,
  });
  if (sure) go(there.replace(/^#\/?/, ''));
}

api.whenSignedOut(lock);
for (const deed of ['pointerdown', 'pointermove', 'keydown']) {
  addEventListener(deed, () => {
    context.lastDeed = Date.now();
  }, { passive: true });
}
addEventListener('hashchange', moved);
// A deed that failed without a form of its own to say so in.
addEventListener('unhandledrejection', (event) => {
  if (!(event.reason instanceof api.Fault)) return;
  event.preventDefault();
  if (event.reason.status !== 401) say(Object.values(event.reason.fields)[0]?.[0] ?? event.reason.message);
});
watch(screen);
on(screen, 'click', 'form .buttons a', forget);
addEventListener('keydown', pressed);
on(document.body, 'click', '[data-do=again]', () => show());
on(document.body, 'click', '[data-do=help]', () => openHelp(keys, KEYS_OFF));
on(document.body, 'click', '[data-skip]', (_, event) => {
  event.preventDefault();
  screen.focus();
});
on(document.body, 'click', '[data-do=sign-out]', async () => {
  await api.signOut().catch(() => {});
  say('You are signed out.');
  showSignIn();
});

try {
  await enter(await api.session());
} catch (fault) {
  if (fault.status === 401) await showSignIn();
  else render(screen, faultNotice(fault));
}
