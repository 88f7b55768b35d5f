/** Keeps the app's own files for use without a network. Classic script; the server puts SHELL in front.
 *  It never keeps an answer of /api, and never takes over while somebody may be writing.
 */
/* global SHELL */

const PREFIX = 'plytide-shell-';
const CACHE = PREFIX + SHELL.version;
const PAGE = '/phone/';
// The page is kept under the address it is opened by: a redirected answer may not be given to a navigation.
const NAMES = SHELL.files.map((file) => (file === '/phone/index.html' ? PAGE : file));
const FILES = new Set(NAMES);

/** A file as this version has it; anything else (a page of a network's own, half a deploy) ends the install. */
async function exact(file, digest) {
  const response = await fetch(new Request(file, { cache: 'reload' }));
  if (!response.ok) throw new Error(`${file}: ${response.status}`);
  const found = new Uint8Array(await crypto.subtle.digest('SHA-256', await response.clone().arrayBuffer()));
  if (btoa(String.fromCharCode(...found)) !== digest) throw new Error(`${file} is not of this version`);
  return response;
}

const languageOf = (file) => /^\/phone\/words\/(\w+)\.js$/.exec(file)?.[1];

/** English, what the phone itself speaks, and each language the version before had; others come when they are chosen. */
async function spoken() {
  const codes = ['en', ...(navigator.languages ?? [navigator.language])].map((one) => one.slice(0, 2));
  const before = (await caches.keys()).filter((name) => name.startsWith(PREFIX));
  const had = await Promise.all(before.map(async (name) => (await (await caches.open(name)).keys()).map((one) => languageOf(new URL(one.url).pathname))));
  return new Set([...codes, ...had.flat()]);
}

/** The version whole, or not at all: then the one before goes on, and the browser looks again later. */
async function takeWhole() {
  const languages = await spoken();
  const wanted = NAMES.filter((file) => !languageOf(file) || languages.has(languageOf(file)));
  const fetched = await Promise.all(wanted.map((file) => exact(file, digestOf(file))));
  const cache = await caches.open(CACHE);
  await Promise.all(fetched.map((response, n) => cache.put(wanted[n], response)));
}

const digestOf = (file) => SHELL.digests[NAMES.indexOf(file)];

/** The words of a language nobody spoke here before: kept from now on. */
async function learn(file) {
  const response = await exact(file, digestOf(file));
  await (await shell()).put(file, response.clone());
  return response;
}

self.addEventListener('install', (event) => event.waitUntil(takeWhole()));

self.addEventListener('activate', (event) => {
  const old = (name) => name.startsWith(PREFIX) && name !== CACHE;
  event.waitUntil(
    caches.keys()
      .then((names) => Promise.all(names.filter(old).map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener('message', (event) => {
  if (event.data === 'take-over') self.skipWaiting();
  const words = `/phone/words/${event.data?.speaks}.js`; // chosen before this worker heard of it
  if (FILES.has(words)) event.waitUntil(shell().then((cache) => cache.match(words)).then((kept) => kept ?? learn(words)).catch(() => {}));
  if (event.data === 'renew') event.waitUntil(renew().catch(() => {}));
  if (event.data === 'version') event.source.postMessage({ version: SHELL.version });
});

function fileFor(request) {
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== self.location.origin) return null;
  if (url.pathname.startsWith('/api/')) return null;
  if (request.mode === 'navigate') return url.pathname.startsWith(PAGE) ? PAGE : null;
  return FILES.has(url.pathname) ? url.pathname : null;
}

let opened = null;
const shell = () => (opened ??= caches.open(CACHE)); // opened once, not for each of fifty files

self.addEventListener('fetch', (event) => {
  const file = fileFor(event.request);
  if (!file) return;
  event.respondWith(
    shell()
      .then((cache) => cache.match(file))
      .then((kept) => kept ?? (languageOf(file) ? learn(file) : fetch(event.request))),
  );
});

// A push always shows something: browsers take the right away from those that stay silent. Nothing personal in it.
self.addEventListener('push', (event) => {
  let said = {};
  try {
    said = event.data.json().notification ?? {};
  } catch {
    // An empty push is still a reminder.
  }
  const shown = { body: said.body ?? '', tag: said.tag ?? 'check-in', icon: '/phone/icons/icon-192.png', lang: said.lang ?? '', dir: said.dir ?? 'auto' };
  event.waitUntil(self.registration.showNotification(said.title ?? 'Plytide', shown));
});

/** The links of this phone, as the page keeps them; without the page's own store, none. */
const links = () => new Promise((done) => {
  const asked = indexedDB.open('plytide');
  asked.onupgradeneeded = () => asked.transaction.abort(); // never made here: its shape is the page's to make
  asked.onerror = () => done([]);
  asked.onsuccess = () => {
    const all = asked.result.transaction('accounts').objectStore('accounts').getAll();
    all.onerror = () => done([]);
    all.onsuccess = () => done(all.result.filter((account) => account.token && !account.unlinked));
    all.transaction.oncomplete = () => asked.result.close();
  };
});

async function told(method, path, token, body) {
  const headers = { Accept: 'application/json', 'Content-Type': 'application/json', Authorization: `Bearer ${token}` };
  const response = await fetch(path, { method, headers, body: body && JSON.stringify(body), cache: 'no-store', credentials: 'omit' });
  if (!response.ok) throw new Error(`${path}: ${response.status}`);
  return response.json();
}

const bytesOf = (key) => Uint8Array.from(atob(key.replace(/-/g, '+').replace(/_/g, '/')), (letter) => letter.charCodeAt(0));

/** The push service gave this phone another address: the clinic's server hears of it, with the same times and the same pause. */
async function renew() {
  for (const { token } of await links()) {
    const { key, reminders, endpoint: before } = await told('GET', '/api/push', token);
    if (!reminders) continue;
    const { pushManager } = self.registration;
    const found = (await pushManager.getSubscription()) ?? (await pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: bytesOf(key) }));
    const { endpoint, keys: { p256dh, auth } } = found.toJSON();
    if (endpoint === before) continue;
    const { at, zone, language, quiet_from, quiet_to, paused_until: paused } = reminders;
    await told('PUT', '/api/push', token, { subscription: { endpoint, keys: { p256dh, auth } }, at, zone, language, quiet_from, quiet_to });
    const hours = paused ? Math.ceil((new Date(paused) - Date.now()) / 3_600_000) : 0;
    if (hours > 0) await told('POST', '/api/push/pause', token, { hours });
  }
}

// Without a network it is tried again when the app is opened.
self.addEventListener('pushsubscriptionchange', (event) => event.waitUntil(renew().catch(() => {})));

self.addEventListener('notificationclick', (event) => {
  event.notification.close();
  const own = (all) => all.find((one) => new URL(one.url).pathname.startsWith(PAGE));
  event.waitUntil(
    self.clients.matchAll({ type: 'window' }).then((all) => (own(all) ? own(all).focus() : self.clients.openWindow(PAGE))),
  );
});
