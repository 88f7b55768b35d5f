/** A photo the clinic asked for comes with an entry. */

import { answerTo, photosAsked, talkOf } from '../messages.js';

/** An entry with a photo was saved: whoever asked for one has it. */
export async function photoTaken(app, checkin) {
  const person = app.person();
  const asked = photosAsked(talkOf(person.account, person), checkin.limb_id);
  if (!asked.length) return;
  const answers = asked.map((one) => answerTo(one, { choice: 'photo', checkin_id: checkin.id }, app.now()));
  await app.diary.addAnswers(person.account.device_id, answers);
}
