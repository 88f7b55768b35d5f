/** Answering the clinic: kept on this phone before the screen says so, sent when there is a network. */

import { answerTo, seen } from '../messages.js';
import { say } from '../words.js';
import { days } from './days.js';

const messageOf = (app, id) => app.person().account.messages.find((one) => one.id === id);

async function keep(app, message, said) {
  const { account } = app.person();
  await app.diary.addAnswers(account.device_id, [answerTo(message, said, app.now())]);
  await app.load();
  app.tellTabs();
  app.sync.pass();
}

export const messages = {
  'message.all': (app) => app.go('messages'),
  'message.close': (app) => app.back(),

  async 'message.choose'(app, said) {
    const [id, i] = said.split(' ');
    const message = messageOf(app, id);
    await keep(app, message, { choice: message.choices[Number(i)] });
    app.paint();
  },

  async 'message.cannot'(app, id) {
    await keep(app, messageOf(app, id), { choice: 'cannot' });
    app.paint();
  },

  /** The photo is taken with an entry of today; saving that answers the clinic. */
  'message.take'(app, id) {
    const message = messageOf(app, id);
    const limbs = app.person().limbs.map((limb) => limb.id);
    days['day.open'](app, limbs.includes(message.limb_id) ? message.limb_id : limbs[0]);
  },

  'message.open': (app, id) => app.go('reply', { params: { message: id } }),

  async 'message.send'(app, id) {
    const text = document.getElementById('reply').value.trim();
    if (!text) {
      app.params = { message: id, error: say('message.empty') };
      return app.paint();
    }
    await keep(app, messageOf(app, id), { text });
    return app.go('home', { replace: true });
  },
};

/** What stood on the screen was seen: the clinic hears that, and only then. */
export async function noteSeen(app, shown) {
  const fresh = shown.filter((one) => !one.seenHere);
  if (!fresh.length || document.visibilityState !== 'visible') return;
  const { account } = app.person();
  for (const one of fresh) one.seenHere = true;
  await app.diary.addAnswers(account.device_id, fresh.map((one) => seen(one, app.now())));
  await app.load();
  app.sync.pass();
}
