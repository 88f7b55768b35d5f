/** The controller: the only file that listens, decides and holds state. Screens show it; acts change it. */

import * as api from './api.js';
import { days } from './acts/days.js';
import { enrol } from './acts/enrol.js';
import { entry } from './acts/entry.js';
import { more } from './acts/more.js';
import { own } from './acts/own.js';
import { openDiary } from './diary.js';
import { render } from '../shared/html.js';
import { counted, outboxOn } from './outbox.js';
import { standing } from './rows.js';
import { syncer } from './sync.js';
import { updates } from './updates.js';
import { state } from './ui/phrases.js';
import { screens } from './ui/screens.js';
import { viewOf } from './view.js';
import { localDate } from './when.js';
import { directionNow, languageNow, say, speak } from './words.js';

const ACTS = { ...days, ...enrol, ...entry, ...more, ...own };
const QUIET = new Set(['form', 'enrol', 'consent', 'drawer', 'reminders']); // screens somebody may be typing on

const app = {
  screen: 'home', params: {}, accounts: [], settings: {}, rows: {}, drafts: {}, drawers: {}, outbox: { waiting: 0, refused: 0 },
  pictures: {}, personId: null, limbId: null, draft: null, entryId: null, joining: null, reached: null, flags: new Set(), build: '',
};

app.now = () => new Date();
app.people = () => app.accounts.flatMap((account) => account.people.map((person) => ({ ...person, account })));
app.person = () => app.people().find((person) => person.id === app.personId) ?? app.people()[0] ?? null;
app.limb = () => app.person()?.limbs.find((limb) => limb.id === app.limbId) ?? app.person()?.limbs[0] ?? null;

/** Read again what the screens show. */
app.load = async () => {
  let all = await app.diary.everything();
  if (!all.accounts.length && (await enrol.refill(app))) all = await app.diary.everything();
  const accounts = all.accounts.filter((account) => account.consent);
  Object.assign(app, { accounts, rows: grouped(all.checkins), settings: all.settings, drafts: all.drafts, drawers: all.drawers, outbox: counted(all.checkins) });
  for (const photo of all.photos) {
    app.pictures[photo.id] ??= URL.createObjectURL(new Blob([photo.bytes], { type: 'image/jpeg' }));
  }
};

function grouped(rows) {
  const groups = {};
  for (const row of rows) (groups[row.limb_id] ??= []).push(row);
  return groups;
}

app.standing = (limb) => standing(app.rows[limb] ?? []);

app.paint = () => {
  const view = viewOf(app);
  const markup = screens[app.screen](view);
  app.shownAdvice = view.adviceKey;
  document.documentElement.lang = languageNow();
  document.documentElement.dir = directionNow();
  document.documentElement.dataset.size = app.settings.size ?? 'normal';
  render(document.getElementById('app'), markup);
  const heading = document.getElementById('title')?.textContent ?? '';
  document.title = `${heading} · Plytide`;
  announce(app.screen === 'saved' && view.entry ? state(view.entry) : '');
};

function announce(text) {
  const said = document.getElementById('said');
  if (said.textContent !== text) said.textContent = text;
}

/** Another screen: a step in the browser's own history, from the top, its heading in focus. */
app.go = (screen, { params = {}, replace = false, step = null } = {}) => {
  Object.assign(app, { screen, params });
  const depth = (history.state?.depth ?? 0) + (replace ? 0 : 1);
  history[replace ? 'replaceState' : 'pushState']({ screen, step, depth }, '', location.pathname);
  app.arrive();
};

app.arrive = () => {
  app.paint();
  window.scrollTo(0, 0);
  document.getElementById('title')?.focus({ preventScroll: true });
};

app.back = () => (history.state?.depth ? history.back() : app.go('home', { replace: true }));

app.toast = (text) => {
  const toast = document.getElementById('toast');
  toast.textContent = text;
  clearTimeout(app.toasting);
  app.toasting = setTimeout(() => (toast.textContent = ''), 6_000);
};

/** The form is half filled: nothing may take it away. */
app.writing = () => QUIET.has(app.screen);

const tabs = 'BroadcastChannel' in globalThis ? new BroadcastChannel('plytide') : null;
app.tellTabs = () => tabs?.postMessage('changed');

app.refresh = async () => {
  await app.load();
  if (!app.writing()) app.paint();
};

async function heard(event) {
  if (event.what === 'reached') app.reached = true;
  if (event.what === 'failed') app.reached = false;
  if (event.what === 'synced' && app.flags.delete('cleared')) app.flags.add('fetched');
  if (event.restored) app.flags.add('restored');
  if (event.what === 'unlinked') app.reached = true;
  app.tellTabs();
  await app.refresh();
}

function listen() {
  document.addEventListener('click', (event) => {
    const key = event.target.closest('[data-do]');
    if (key && ACTS[key.dataset.do]) run(ACTS[key.dataset.do], key);
  });
  document.addEventListener('submit', (event) => {
    event.preventDefault();
    run(ACTS[event.target.dataset.doSubmit], event.target);
  });
  document.addEventListener('input', (event) => {
    if (event.target.dataset.field) run(ACTS['day.typed'], event.target);
  });
  document.addEventListener('change', (event) => {
    const { change } = event.target.dataset;
    if (change) run(ACTS[change], event.target);
  });
  // Zones of a picture are keys too.
  document.addEventListener('keydown', (event) => {
    const zone = event.target.closest?.('g[data-do]');
    if (!zone || (event.key !== 'Enter' && event.key !== ' ')) return;
    event.preventDefault();
    run(ACTS[zone.dataset.do], zone);
  });
  window.addEventListener('popstate', (event) => {
    const { screen = 'home', step = null } = event.state ?? {};
    Object.assign(app, { screen, params: {} });
    if (screen === 'form' && app.draft && step) app.draft.step = step;
    if ((screen === 'form' && !app.draft) || !app.people().length) app.screen = app.people().length ? 'home' : 'enrol';
    app.arrive();
  });
  tabs?.addEventListener('message', app.refresh);
}

const run = (act, element) => Promise.resolve(act(app, element.dataset.arg ?? '', element)).catch(failed);

function failed(error) {
  console.error(error);
  app.toast(say('saved.failed'));
}

/** Somebody is writing: the new version is offered, never forced. */
app.offerUpdate = () => {
  app.flags.add('update');
  app.paint();
};

/** A code in the address's fragment is taken out of it at once. */
function codeInAddress() {
  const code = new URLSearchParams(location.hash.slice(1)).get('enrol');
  if (location.hash) history.replaceState(history.state, '', location.pathname);
  return code;
}

async function begin() {
  const rules = api.rules().catch(() => null); // asked for first, needed last
  const code = codeInAddress();
  app.diary = await openDiary({
    blocked: () => app.flags.add('blocked'),
    replaced: () => (app.writing() ? app.offerUpdate() : location.reload()),
  });
  app.box = outboxOn(app.diary);
  await app.load();
  await speak(app.settings.language ?? navigator.language?.slice(0, 2)).catch(() => speak('en'));
  app.sync = syncer({ diary: app.diary, outbox: app.box, api, tell: heard, build: () => app.build });
  listen();
  app.rules = await rules;
  const stays = app.people().length && !code;
  app.screen = stays ? 'home' : 'enrol';
  app.params = code ? { code } : {};
  app.personId = app.settings.person ?? null;
  history.replaceState({ screen: app.screen, depth: 0 }, '', location.pathname);
  app.paint();
  document.documentElement.dataset.ready = 'yes';
  app.sync.start();
  updates(app);
  midnight();
}

/** The day turns over on the screens that only look; a form keeps the day it was opened for. */
function midnight() {
  let day = localDate(app.now());
  setInterval(() => {
    if (day === localDate(app.now())) return;
    day = localDate(app.now());
    if (!app.writing()) app.paint();
  }, 30_000);
}

begin();
