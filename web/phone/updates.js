/** New versions, politely: taken at once when nobody is writing, offered otherwise. Never two reloads. */

import { languageNow } from './words.js';

const HOUR = 3_600_000;

/** The worker keeps the words of the language that is spoken, also of one chosen before it was there. */
export const keepLanguage = () =>
  navigator.serviceWorker?.ready.then((ready) => ready.active?.postMessage({ speaks: languageNow() }), () => {});

export async function updates(app) {
  if (!('serviceWorker' in navigator)) return;
  let claimed = Boolean(navigator.serviceWorker.controller);
  let reloading = false;
  let accepted = false; // the wearer asked for it; a half-filled form is kept as a draft
  navigator.serviceWorker.addEventListener('controllerchange', () => {
    const first = !claimed; // the first worker of all changes nothing on the screen
    claimed = true;
    if (first || reloading) return;
    if (!accepted && app.writing()) {
      app.offerUpdate(); // another tab took the new version
      return;
    }
    reloading = true;
    location.reload();
  });
  navigator.serviceWorker.addEventListener('message', (event) => {
    if (event.data?.version) app.build = event.data.version;
  });
  navigator.serviceWorker.ready.then((ready) => ready.active?.postMessage('version'));
  keepLanguage();
  const reminded = app.settings.times?.length && globalThis.Notification?.permission === 'granted';
  if (reminded) navigator.serviceWorker.ready.then((ready) => ready.active?.postMessage('renew'));
  const registration = await navigator.serviceWorker
    .register('/phone/sw.js', { scope: '/phone/', updateViaCache: 'none' })
    .catch(() => null);
  if (!registration) return;

  const takeOver = () => registration.waiting?.postMessage('take-over');
  app.acceptUpdate = () => {
    accepted = true;
    if (registration.waiting) takeOver();
    else location.reload();
  };
  const look = () => {
    if (!registration.waiting || !registration.active) return; // the very first worker waits for nobody
    if (app.writing()) app.offerUpdate();
    else takeOver();
  };
  registration.addEventListener('updatefound', () => {
    registration.installing?.addEventListener('statechange', look);
  });
  look();
  const ask = () => registration.update().then(look, () => {});
  document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && ask());
  setInterval(ask, HOUR);
}
