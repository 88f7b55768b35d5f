/** New versions, politely: taken at once when nobody is writing, offered otherwise. Never two reloads. */

const HOUR = 3_600_000;

export async function updates(app) {
  if (!('serviceWorker' in navigator)) return;
  let reloading = false;
  const had = Boolean(navigator.serviceWorker.controller);
  navigator.serviceWorker.addEventListener('controllerchange', () => {
    if (!had || reloading) return; // the first worker of all changes nothing on the screen
    reloading = true;
    if (!app.writing()) location.reload();
  });
  const registration = await navigator.serviceWorker
    .register('/phone/sw.js', { scope: '/phone/', updateViaCache: 'none' })
    .catch(() => null);
  if (!registration) return;

  app.takeOver = () => registration.waiting?.postMessage('take-over');
  const look = () => {
    if (!registration.waiting || !had) return;
    if (app.writing()) app.flags.add('update');
    else app.takeOver();
  };
  app.lookForUpdate = look;
  registration.addEventListener('updatefound', () => {
    registration.installing?.addEventListener('statechange', look);
  });
  look();
  const ask = () => registration.update().then(look, () => {});
  document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && ask());
  setInterval(ask, HOUR);
}
