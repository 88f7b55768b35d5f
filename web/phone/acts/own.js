/** The wearer's own things: their socks, their reminders. */

import { reminderFile, visitFile } from '../calendar.js';
import { toggled } from '../checkin.js';
import { offer } from '../files.js';
import * as reminding from '../reminding.js';
import { localDate } from '../when.js';
import { say } from '../words.js';

const MOST_OWNED = 8;

const drawerOf = (app) => app.drawers[app.limb().id] ?? [];

async function keepDrawer(app, socks) {
  const { id } = app.limb();
  await app.diary.putSmall(`drawer:${id}`, socks);
  app.drawers[id] = socks;
}

function complain(app, params) {
  app.params = params;
  app.paint();
  window.scrollTo(0, 0);
}

function pick(app, fields) {
  const name = document.getElementById('sock-name')?.value ?? '';
  app.params = { pick: { ...app.params.pick, name, ...fields } };
  app.paint();
}

export const own = {
  'drawer.open': (app) => app.go('drawer'),
  'drawer.close': (app) => app.back(),
  'drawer.ply': (app, ply) => pick(app, { ply: Number(ply) }),
  /** A sock that was logged: its name and colour come next. */
  'drawer.met'(app, _, { dataset: { ply, make } }) {
    pick(app, { ply: Number(ply), make });
    document.getElementById('new-sock').scrollIntoView({ block: 'start' });
    document.getElementById('sock-name').focus({ preventScroll: true });
  },
  'drawer.make': (app, make) => pick(app, { make }),
  'drawer.colour': (app, colour) => pick(app, { colour: Number(colour) }),

  async 'drawer.keep'(app) {
    pick(app, {});
    const { ply, make = 'unknown', colour = null, name = '' } = app.params.pick;
    if (ply === undefined) {
      app.params = { ...app.params, error: say('socks.error.pick') };
      app.paint();
      window.scrollTo(0, 0);
      return;
    }
    const others = drawerOf(app).filter((sock) => sock.ply !== ply || sock.make !== make);
    await keepDrawer(app, [...others, { ply, make, colour, name: name.trim() }].slice(-MOST_OWNED));
    app.params = {};
    app.paint();
    window.scrollTo(0, 0);
  },

  async 'drawer.lose'(app, index) {
    await keepDrawer(app, drawerOf(app).filter((_, i) => i !== Number(index)));
    app.paint();
  },

  async 'remind.open'(app) {
    app.go('reminders');
    if (!reminding.canPush()) return;
    app.reminding = await reminding.known(app);
    if (app.screen === 'reminders') app.paint();
  },

  async 'remind.start'(app) {
    const times = [...(app.params.times ?? app.settings.times ?? [])].sort();
    const quiet = [document.getElementById('quiet-from').value || null, document.getElementById('quiet-to').value || null];
    if (!times.length) return complain(app, { times, error: say('remind.none') });
    app.settings = { ...app.settings, times, quiet };
    await app.diary.putSmall('settings', app.settings).catch(() => {});
    try {
      await reminding.start(app, times, { quiet_from: quiet[0], quiet_to: quiet[1] });
    } catch (error) {
      console.warn(error);
      return complain(app, { times, error: say('remind.push_no') });
    }
    app.reminding = await reminding.known(app);
    return app.paint();
  },

  async 'remind.pause'(app, hours) {
    await reminding.pause(app, Number(hours)).catch(() => app.toast(say('outbox.no_network')));
    app.reminding = await reminding.known(app);
    app.paint();
  },

  async 'remind.stop'(app) {
    await reminding.stop(app).catch(() => app.toast(say('outbox.no_network')));
    app.reminding = await reminding.known(app);
    app.paint();
  },

  'visit.file'(app) {
    const { account, id } = app.person();
    const own = (account.visits ?? account.next_visits ?? []).filter((one) => one.person_id === id);
    const stamp = app.now().toISOString().replace(/[-:]|\.\d+/g, '');
    const summary = ({ what }) => [say('visit.summary', { clinic: account.clinic?.name ?? '' }), what].filter(Boolean).join(': ');
    offer('plytide-visits.ics', 'text/calendar', visitFile(own, { summary, stamp }));
    app.toast(say('visit.made'));
  },

  /** The day on which the first page looks back at a week; tapped again, it does so no more. */
  async 'week.on'(app, day) {
    const { week_on: before } = app.settings;
    app.settings = { ...app.settings, week_on: before === Number(day) ? null : Number(day) };
    app.paint();
    await app.diary.putSmall('settings', app.settings).catch(() => {});
  },

  'remind.close': (app) => app.back(),
  'remind.time'(app, time) {
    app.params = { times: toggled(app.params.times ?? app.settings.times ?? [], time) };
    app.paint();
  },
  'remind.own'(app, _, input) {
    const times = app.params.times ?? app.settings.times ?? [];
    if (input.value && !times.includes(input.value)) own['remind.time'](app, input.value);
  },

  async 'remind.file'(app) {
    const times = [...(app.params.times ?? app.settings.times ?? [])].sort();
    if (!times.length) {
      app.params = { times, error: say('remind.none') };
      app.paint();
      return;
    }
    app.settings = { ...app.settings, times };
    await app.diary.putSmall('settings', app.settings).catch(() => {});
    const stamp = app.now().toISOString().replace(/[-:]|\.\d+/g, '');
    const about = { summary: say('remind.summary'), from: localDate(app.now()), stamp, uid: 'check-in' };
    offer('plytide.ics', 'text/calendar', reminderFile(times, about));
    app.toast(say('remind.made'));
  },
};
