/** The clinic's plan is opened; the leg goes on or comes off. */

import { turned } from '../pocket.js';

export const pocket = {
  'pocket.open': (app) => app.go('pocket'),
  'pocket.close': (app) => app.back(),

  async 'pocket.worn'(app, limb) {
    const worn = { ...app.settings.worn, [limb]: turned(app.settings.worn?.[limb], app.now()) };
    app.settings = { ...app.settings, worn };
    app.paint();
    await app.diary.putSmall('settings', app.settings).catch(() => {});
  },
};
