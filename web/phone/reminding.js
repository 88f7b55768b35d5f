/** Reminders by push: asked for by a tap, kept at the clinic's server, with no health words in them. */

import * as api from './api.js';
import { languageNow } from './words.js';
import { zoneName } from './when.js';

const tokenOf = (app) => app.person()?.account.token;

export const canPush = () => 'PushManager' in window && 'Notification' in window && 'serviceWorker' in navigator;

const bytesOf = (key) => Uint8Array.from(atob(key.replace(/-/g, '+').replace(/_/g, '/')), (letter) => letter.charCodeAt(0));

/** What the server holds for this phone; null without a network. */
export const known = (app) => api.reminders(tokenOf(app)).catch(() => null);

/** Raises when the browser or the wearer says no. */
export async function start(app, at, quiet) {
  if ((await Notification.requestPermission()) !== 'granted') throw new Error('reminders: not allowed');
  const { key } = await api.reminders(tokenOf(app));
  const ready = await navigator.serviceWorker.ready;
  const subscription = await ready.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: bytesOf(key) });
  const { endpoint, keys } = subscription.toJSON();
  const wish = { subscription: { endpoint, keys: { p256dh: keys.p256dh, auth: keys.auth } }, at, zone: zoneName(), language: languageNow() };
  return api.remind(tokenOf(app), { ...wish, ...quiet });
}

export async function stop(app) {
  await api.endReminders(tokenOf(app));
  const ready = await navigator.serviceWorker.getRegistration();
  await (await ready?.pushManager.getSubscription())?.unsubscribe();
}

export const pause = (app, hours) => api.pauseReminders(tokenOf(app), hours);
