/** The controller: the only file that listens, decides and holds state. Screens show it; acts change it. */

import * as api from './api.js';
import { days } from './acts/days.js';
import { enrol } from './acts/enrol.js';
import { entry } from './acts/entry.js';
import { messages, noteSeen } from './acts/messages.js';
import { more } from './acts/more.js';
import { own } from './acts/own.js';
import { pocket } from './acts/pocket.js';
import { begunOf } from './begun.js';
import { drawLine } from './drawn.js';
import { markUnsent, openDiary } from './diary.js';
import { checkinOf, wholeDraft } from './checkin.js';
import { keyOf, mustAskDay } from './drafts.js';
import { render } from '../shared/html.js';
import { pressWatch } from '../shared/press.js';
import { evaluate } from '../shared/safety.js';
import { uuid7 } from './ids.js';
import { onFirstPage, talkOf } from './messages.js';
import { counted, outboxOn } from './outbox.js';
import { alongRadios } from './radios.js';
import { standing } from './rows.js';
import { syncer } from './sync.js';
import { tapsFilter, SETTLE } from './taps.js';
import { updates } from './updates.js';
import { state } from './ui/phrases.js';
import { screens } from './ui/screens.js';
import { about, viewOf, weighedBeside } from './view.js';
import { localDate } from './when.js';
import { directionNow, languageNow, say, speak } from './words.js';

const ACTS = { ...days, ...enrol, ...entry, ...messages, ...more, ...own, ...pocket };
const QUIET = new Set(['form', 'enrol', 'consent', 'drawer', 'reminders', 'reply']); // screens somebody may be typing on

const app = {
  screen: 'home', params: {}, accounts: [], settings: {}, rows: {}, drafts: [], drawers: {}, begun: [], refusedPhotos: [], outbox: { waiting: 0, stuck: 0, refused: 0 },
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
  app.lost = (await app.diary.small('lost')) ?? [];
  markUnsent(all.checkins);
  if (app.rules === null) app.rules = await api.rules().catch(() => null); // they could not be had at the start
  Object.assign(app, { accounts, rows: grouped(all.checkins), settings: all.settings, drafts: all.drafts.map(wholeDraft), begun: all.begun, refusedPhotos: all.photos.filter((photo) => photo.state === 'refused'), drawers: all.drawers, outbox: counted(all.checkins, accounts) });
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
  const urgent = app.screen === 'form' && view.advice[0]?.level === 'emergency';
  app.shownAdvice = view.adviceKey;
  document.documentElement.lang = languageNow();
  document.documentElement.dir = directionNow();
  document.documentElement.dataset.size = app.settings.size ?? 'normal';
  const under = placeOf(app.tapped);
  render(document.getElementById('app'), markup);
  if (under !== null && placeOf(app.tapped) !== null) window.scrollBy(0, placeOf(app.tapped) - under);
  if (urgent && !app.wasUrgent) document.getElementById('advice')?.scrollIntoView({ block: 'start' }); // its number, at once
  app.wasUrgent = urgent;
  if (app.screen === 'saved') drawLine(app.entryId);
  const heading = document.getElementById('title')?.textContent ?? '';
  document.title = `${heading} · Plytide`;
  if (app.screen === 'home' || app.screen === 'messages') noteSeen(app, shownNow(app, view)).catch(console.error);
  announce(app.screen === 'saved' && view.entry ? state(view.entry) : '');
};

function shownNow(app, view) {
  const talk = view.person ? talkOf(view.person.account, view.person) : [];
  return app.screen === 'home' ? onFirstPage(talk, view.today) : talk;
}

/** Where on the screen the key is that was tapped: it stays there when more is shown above it, under the finger. */
const placeOf = (id) => {
  const key = id ? document.getElementById(id) : null;
  return key && !key.closest('.foot') ? key.getBoundingClientRect().top : null;
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
  app.toast(''); // it was of the screen before, and would lie over the answers
  app.tapped = null;
  app.paint();
  settle();
  window.scrollTo(0, 0);
  document.getElementById('title')?.focus({ preventScroll: true });
};

const press = pressWatch(document);
const taps = tapsFilter();
const arrivals = { last: 0 };

/** What was just shown takes nothing for a moment, and looks so. Counted from its paint, not from the tap. */
function settle() {
  const arrival = (arrivals.last += 1);
  const root = document.documentElement;
  taps.settle(true);
  root.dataset.settling = 'yes';
  requestAnimationFrame(() => setTimeout(() => {
    if (arrival !== arrivals.last) return; // another screen came meanwhile, and has its own moment
    taps.settle(false);
    delete root.dataset.settling;
  }, SETTLE));
}

app.back = () => (history.state?.depth ? history.back() : app.go('home', { replace: true }));

app.toast = (text) => {
  const toast = document.getElementById('toast');
  toast.textContent = text;
  clearTimeout(app.toasting);
  app.toasting = setTimeout(() => (toast.textContent = ''), 6_000);
};

/** The wearer stops: dangers of entries that are begun and not saved go to the clinic by themselves. */
app.leave = async () => {
  const drafts = [...app.drafts.filter((one) => !app.draft || keyOf(one) !== keyOf(app.draft)), ...(app.draft?.touched ? [app.draft] : [])];
  let news = false;
  for (const draft of drafts) {
    const owner = app.people().find((person) => person.limbs.some((limb) => limb.id === draft.limb_id));
    if (!owner || !app.rules || app.saving) continue;
    const rows = app.standing(draft.limb_id);
    const beside = weighedBeside(owner, { id: draft.limb_id }, Object.fromEntries(owner.limbs.map((one) => [one.id, app.standing(one.id)])));
    const now = app.now();
    const advise = (checkin, row) => evaluate(app.rules, checkin, about(owner, owner.account.clinic, rows, row, beside)).map((rule) => rule.id);
    const mended = rows.find((row) => row.id === (draft.mends ?? draft.replaces));
    const id = draft.id ?? uuid7();
    const row = begunOf(draft, {
      id, now, device_id: owner.account.device_id, before: app.begun.find((one) => one.id === id) ?? null,
      fired: advise(checkinOf(draft, { id, now, device_id: null }), mended ?? null), known: mended ? advise(mended.checkin, mended) : [],
    });
    if (!row) continue;
    draft.id = id;
    app.begun = [...app.begun.filter((one) => one.id !== id), row];
    await app.diary.putBegun(row);
    await app.diary.putDraft(draft);
    news = true;
  }
  if (news) app.sync.pass();
};

/** The form is half filled: nothing may take it away. */
app.writing = () => QUIET.has(app.screen);

const tabs = 'BroadcastChannel' in globalThis ? new BroadcastChannel('plytide') : null;
app.tellTabs = () => tabs?.postMessage('changed');

/** Drawn anew by itself, never under a finger. */
app.repaint = async () => {
  await press.over();
  if (!app.writing()) app.paint();
};

app.refresh = async () => {
  await app.load();
  await app.repaint();
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

const KEYS = 'button, a[href], summary, [data-do]';
const nameOf = (key) => key && (key.id || `${key.dataset.do ?? key.tagName} ${key.dataset.arg ?? key.textContent}`);

/** Every tap, and every press of a keyboard or a switch, comes through here before anything else hears of it. */
function filterTaps() {
  let tapped = null;
  document.addEventListener('pointerdown', (event) => taps.pressed({ x: event.clientX, y: event.clientY }), true);
  document.addEventListener('click', (event) => {
    const key = event.target.closest(KEYS);
    const { says } = taps.judge({ time: event.timeStamp, x: event.clientX, y: event.clientY, key: nameOf(key) });
    if (says === 'take') {
      if (key) tapped = key;
      return;
    }
    event.preventDefault();
    event.stopImmediatePropagation();
    if (says === 'again' && tapped.dataset.twice) run(ACTS[tapped.dataset.twice], tapped);
  }, true);
  // A key of the keyboard that is held down presses once.
  document.addEventListener('keydown', (event) => {
    if (event.repeat && (event.key === 'Enter' || event.key === ' ') && event.target.closest?.(KEYS)) event.preventDefault();
  }, true);
}

function listen() {
  filterTaps();
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
    if (!zone || event.repeat || (event.key !== 'Enter' && event.key !== ' ')) return;
    event.preventDefault();
    zone.dispatchEvent(new MouseEvent('click', { bubbles: true, cancelable: true }));
  });
  document.addEventListener('keydown', alongRadios);
  window.addEventListener('popstate', (event) => {
    const { screen = 'home', step = null } = event.state ?? {};
    Object.assign(app, { screen, params: {} });
    if (screen === 'form' && app.draft && step) app.draft.step = step;
    if ((screen === 'form' && !app.draft) || !app.people().length) app.screen = app.people().length ? 'home' : 'enrol';
    app.arrive();
  });
  tabs?.addEventListener('message', app.refresh);
}

function run(act, element) {
  app.tapped = element.id;
  try {
    Promise.resolve(act(app, element.dataset.arg ?? '', element)).catch(failed);
  } finally {
    app.tapped = null;
  }
}

function failed(error) {
  console.error(error);
  app.toast(say('saved.failed'));
}

/** Somebody is writing: the new version is offered, never forced. */
app.offerUpdate = () => {
  app.flags.add('update');
  press.over().then(app.paint);
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
  app.leave().catch(() => {}); // what was begun when the page was ended
  updates(app);
  midnight();
}

/** The day turns over on the screens that only look; a form keeps the day it was opened for. */
function midnight() {
  let day = localDate(app.now());
  setInterval(() => {
    if (day === localDate(app.now()) && app.screen !== 'pocket') return; // a clock runs there
    day = localDate(app.now());
    app.repaint();
  }, 30_000);
  // Taken up again on another day, a form asks which day it is for before it takes anything.
  document.addEventListener('visibilitychange', () => {
    if (document.visibilityState === 'hidden') app.leave().catch(() => {});
    else if (app.screen === 'form' && app.draft?.step === 'danger') app.load().then(press.over).then(app.paint, () => {}); // what was sent meanwhile is said
    if (document.visibilityState === 'visible' && app.screen === 'form' && app.draft && mustAskDay(app.draft, app.now())) app.arrive();
  });
}

begin();
