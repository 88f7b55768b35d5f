/** Every screen by its name. */

import { daysScreen, entryScreen } from './days.js';
import { consentScreen, enrolScreen } from './enrol.js';
import { drawerScreen } from './drawer.js';
import { formScreen } from './form.js';
import { helpScreen } from './help.js';
import { homeScreen } from './home.js';
import { messagesScreen, replyScreen } from './messages.js';
import { moreScreen } from './more.js';
import { pocketScreen } from './pocket.js';
import { savedScreen } from './saved.js';
import { remindersScreen } from './reminders.js';
import { storyScreen } from './story.js';

export const screens = {
  home: homeScreen, days: daysScreen, entry: entryScreen, enrol: enrolScreen, consent: consentScreen,
  form: formScreen, help: helpScreen, more: moreScreen, saved: savedScreen, story: storyScreen, drawer: drawerScreen, reminders: remindersScreen, messages: messagesScreen, reply: replyScreen, pocket: pocketScreen,
};
