/** New versions, politely: taken at once when nobody is writing, offered otherwise. Never two reloads. */

const HOUR = 3_600_000;

export async function updates(app) {
  if (!('serviceWorker' in navigator)) return;
  let reloading = false;
  let accepted = false; // the wearer asked for it; a half-filled form is kept as a draft
  const had = Boolean(navigator.serviceWorker.controller);
  navigator.serviceWorker.addEventListener('controllerchange', () => {
    if (!had || reloading) return; // the first worker of all changes nothing on the screen
    reloading = true;
    if (accepted || !app.writing()) location.reload();
  });
  const registration = await navigator.serviceWorker
    .register('/phone/sw.js', { scope: '/phone/', updateViaCache: 'none' })
    .catch(() => null);
  if (!registration) return;

  app.acceptUpdate = () => {
    accepted = true;
    app.takeOver();
  };
  app.takeOver = () => (registration.waiting ? registration.waiting.postMessage('take-over') : location.reload());
  const look = () => {
    if (!registration.waiting || !had) return;
    if (app.writing()) app.offerUpdate();
    else app.takeOver();
  };
  registration.addEventListener('updatefound', () => {
    registration.installing?.addEventListener('statechange', look);
  });
  look();
  const ask = () => registration.update().then(look, () => {});
  document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && ask());
  setInterval(ask, HOUR);
}
