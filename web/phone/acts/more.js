/** Moving about, looks, and the last resort. */

import { offer } from '../files.js';
import { fileOf, pageOf, summaryOf } from '../mine.js';
import { localDate } from '../when.js';
import { usualUnit } from '../weight.js';
import { keepLanguage } from '../updates.js';
import { say, speak } from '../words.js';

async function set(app, fields) {
  app.settings = { ...app.settings, ...fields };
  await app.diary.putSmall('settings', app.settings).catch(() => {});
}

export const more = {
  go: (app, _, key) => app.go(key.dataset.screen),
  home: (app) => app.go('home', { replace: true }),
  'help.close': (app) => app.back(),

  async who(app, id) {
    app.personId = id;
    app.limbId = null;
    app.paint();
    await set(app, { person: id });
  },

  limb(app, id) {
    app.limbId = id;
    app.paint();
  },

  async 'looks.language'(app, language) {
    try {
      await speak(language);
    } catch (error) {
      console.warn(error);
      app.toast(say('looks.offline'));
      return;
    }
    keepLanguage();
    await set(app, { language });
    app.paint();
  },

  async 'looks.size'(app, size) {
    await set(app, { size });
    app.paint();
  },

  alarm(_, card) {
    document.getElementById(card)?.scrollIntoView({ block: 'start' });
    document.getElementById(card)?.focus({ preventScroll: true });
  },

  send: (app) => app.sync.pass(),

  async export(app) {
    const text = JSON.stringify({ plytide_export: 1, made_at: app.now().toISOString(), checkins: await app.box.unsent() }, null, 1);
    offer(`plytide-${localDate(app.now())}.json`, 'application/json', text);
  },

  'mine.file'(app) {
    const text = JSON.stringify(fileOf(app.person(), app.rows, app.now()), null, 1);
    offer(`plytide-${localDate(app.now())}-data.json`, 'application/json', text);
  },

  'mine.page'(app) {
    offer(`plytide-${localDate(app.now())}.html`, 'text/html', pageOf(app.person(), app.rows, app.now(), { drawers: app.drawers, unit: app.settings.unit ?? usualUnit(navigator.language) }));
  },

  'mine.short'(app) {
    const person = app.person();
    const visits = person.account.visits ?? [];
    offer(`plytide-${localDate(app.now())}-short.html`, 'text/html', summaryOf(person, app.rows, app.now(), { visits }));
  },

  update: (app) => (app.acceptUpdate ? app.acceptUpdate() : location.reload()),
};
