/** One entry of the past: look, correct, take back. Nothing written is ever changed; a correction is a new entry. */

import { draftOf, withdrawalOf } from '../checkin.js';
import { fixOf, keyOf } from '../drafts.js';
import { uuid7 } from '../ids.js';
import { showField } from './days.js';
import { fresh } from '../rows.js';

const rowOf = (app, id) => Object.values(app.rows).flat().find((row) => row.id === id);

/** A correction that was begun goes on where it was left. */
function mend(app, row, step = 'review') {
  app.draft = { ...(fixOf(app.drafts, row.id) ?? draftOf(row, app.now())), step };
  app.go('form', { step: app.draft.step });
}

export const entry = {
  'entry.open'(app, id) {
    app.entryId = id;
    app.limbId = rowOf(app, id)?.limb_id ?? app.limbId;
    app.go('entry');
  },
  'entry.close': (app) => app.back(),
  'entry.correct'(app) {
    mend(app, rowOf(app, app.entryId));
  },
  /** Straight to what has to be mended, from wherever it is told. */
  'entry.fix'(app, id, key) {
    const row = rowOf(app, id);
    if (!row) return;
    app.entryId = id;
    app.limbId = row.limb_id;
    mend(app, row, key.dataset.step || 'review');
    if (app.draft.step === 'review') showField(key.dataset.field);
  },
  'entry.ask'(app) {
    app.params = { asking: true };
    app.paint();
    document.getElementById('withdraw-no')?.focus();
  },
  'entry.keep'(app) {
    app.params = {};
    app.paint();
  },
  async 'entry.withdraw'(app) {
    const row = rowOf(app, app.entryId);
    const { account } = app.person();
    if (row.state === 'refused') {
      // The clinic never had it: nothing is there to take back.
      await app.diary.save({ ...row, state: 'mended' }, { draft: keyOf(draftOf(row, app.now())) });
    } else {
      const checkin = withdrawalOf(row, { id: uuid7(), now: app.now(), device_id: account.device_id });
      await app.diary.save(fresh(checkin, account.device_id), { draft: keyOf(draftOf(row, app.now())) });
    }
    app.entryId = null;
    await app.load();
    app.go('days', { replace: true });
    app.tellTabs();
    app.sync.pass();
  },
  'days.older'(app) {
    app.params = { most: (app.params.most ?? 60) + 60 };
    app.paint();
  },
};
