/** Joining: a code for a link, then consent; and filling a wiped phone again. */

import * as api from '../api.js';
import { unsentBefore } from '../diary.js';
import { localDate } from '../when.js';
import { languageNow, say } from '../words.js';

function errorWords(error) {
  if (error.status === 0) return say('enrol.error.offline');
  if (error.status === 429) return say('enrol.error.often');
  if (error.status === 422 || error.status === 400) return say('enrol.error.code');
  return say('enrol.error.server');
}

/** A secret for each code, kept until the link is: whoever tries again with it, also after the page was closed, is known. */
async function attemptOf(app, code) {
  const known = await app.diary.small('attempt');
  if (known?.code === code) return known.secret;
  const secret = [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  await app.diary.putSmall('attempt', { code, secret }).catch(() => {});
  return secret;
}

export const enrol = {
  async 'enrol.join'(app, _, form) {
    const typed = new FormData(form);
    const [code, label] = [typed.get('code').trim(), typed.get('label').trim()];
    app.params = { code, label, busy: true };
    app.paint();
    try {
      const link = await api.enrol(code, label || say('enrol.label'), await attemptOf(app, code));
      app.joining = { ...link, epoch: null, cursor: null, next_visits: [], seen: {} };
      app.go('consent', { replace: true });
    } catch (error) {
      app.params = { code, label, error: errorWords(error) };
      app.paint();
      document.getElementById('code')?.focus();
    }
  },

  async 'enrol.agree'(app) {
    const consent = { at: app.now().toISOString(), on: localDate(app.now()), words: `consent-1-${languageNow()}` };
    await app.diary.putAccount({ ...app.joining, consent });
    await app.diary.takeOver({ ...app.joining, consent });
    await app.diary.putSmall('attempt', undefined);
    app.personId = app.joining.people[0]?.id ?? null;
    app.joining = null;
    await app.load();
    app.go('home', { replace: true });
    app.sync.pass();
  },

  'enrol.decline'(app) {
    app.joining = null;
    app.go(app.people().length ? 'home' : 'enrol', { replace: true });
  },

  /** The wearer has read which days were lost. */
  async 'lost.seen'(app) {
    await app.diary.putSmall('lost', undefined);
    app.lost = [];
    app.paint();
  },

  'enrol.more': (app) => app.go('enrol'),
  'enrol.leave': (app) => app.go('more', { replace: true }),

  /** The store is empty but this phone had a link: say so, and fetch everything again. */
  async refill(app) {
    const marks = await app.diary.wiped();
    const lost = marks.length ? unsentBefore() : [];
    const known = { people: [], clinic: null, epoch: null, cursor: null, next_visits: [], seen: {} };
    for (const mark of marks) await app.diary.putAccount({ ...known, ...mark, consent: { at: null, refilled: true } });
    if (lost.length) await app.diary.putSmall('lost', lost);
    if (marks.length) app.flags.add('cleared').delete('fetched');
    return marks.length > 0;
  },
};
