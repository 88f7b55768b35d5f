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

self.addEventListener('install', (event) => {
  const fetched = NAMES.map((file) => new Request(file, { cache: 'reload' }));
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(fetched)));
});

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
      .then((kept) => kept ?? fetch(event.request)),
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

self.addEventListener('notificationclick', (event) => {
  event.notification.close();
  const own = (all) => all.find((one) => new URL(one.url).pathname.startsWith(PAGE));
  event.waitUntil(
    self.clients.matchAll({ type: 'window' }).then((all) => (own(all) ? own(all).focus() : self.clients.openWindow(PAGE))),
  );
});
