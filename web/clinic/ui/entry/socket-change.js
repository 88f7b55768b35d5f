/** What changes on a socket that stays: suspension, limit, wear schedule, the day it was retired. */

import * as api from '../../api.js';
import { html } from '../../../shared/html.js';
import { scheduleOf, scheduleText } from '../../wear-schedule.js';
import { day, today } from '../../when.js';
import { limbName, PURPOSE, SUSPENSION } from '../../words.js';
import { changed, form } from '../form.js';
import { despite } from './despite.js';

export async function show(root, { params, context }) {
  const { person, limb, sockets } = await api.limb(params.limb);
  const socket = sockets.find((one) => one.id === params.socket);
  const before = { ...socket, ...(socket.baseline_unsure ? { stack_at_fitting: null } : {}),
    wear_schedule: scheduleText(socket.wear_schedule) };
  let switched = null; // kept already, when what else was changed is put aside and sent again
  form(root, {
    title: `${PURPOSE[socket.purpose]} socket of ${day(socket.fitted_on)}`,
    intro: html`${person.name}, ${limbName(limb)}. For a new socket, add one instead: it starts a new baseline.`,
    words: 'Keep',
    back: { href: `#/limbs/${limb.id}`, words: person.name },
    fields: [
      { name: 'suspension', label: 'Suspension', kind: 'choice', options: Object.entries(SUSPENSION), value: socket.suspension, hint: 'Can change on the same socket. The change is marked on the limb’s story.' },
      { name: 'changed_on', label: 'Suspension changed on', kind: 'date', value: today(), max: today() },
      { name: 'switched_liner', label: 'Liner worn with it from then on', kind: 'text', hint: 'Where the suspension changes; the one before stays readable.' },
      { name: 'liner_size', label: 'Liner size', kind: 'text', value: socket.liner_size },
      { name: 'liner_profile', label: 'Liner profile', kind: 'text', value: socket.liner_profile },
      { name: 'lock_or_valve', label: 'Lock or valve', kind: 'text', value: socket.lock_or_valve },
      { name: 'liner_mm', label: 'Liner thickness', kind: 'quantity', measure: 'thickness', low: 1.5, high: 12, value: socket.liner_mm },
      { name: 'weight_limit_kg', label: 'Body-weight limit', kind: 'quantity', measure: 'weight', low: 15, high: 200, value: socket.weight_limit_kg },
      { name: 'stack_at_fitting', label: 'Sock stack at fitting', kind: 'stack', value: socket.baseline_unsure ? null
        : socket.stack_at_fitting, hint: socket.baseline_unsure ? 'Kept as no sock, when that and “not entered” were not told apart.' : 'The baseline every change is counted from.' },
      { name: 'wear_schedule', label: 'Wear schedule', kind: 'text', value: before.wear_schedule, hint: 'Hours on each day from fitting, for example: 1, 2, 4, 8. The person sees it on their phone.' },
      { name: 'retired_on', label: 'Retired on', kind: 'date', value: socket.retired_on },
      { name: 'retired_why', label: 'Why it was retired', kind: 'text', value: socket.retired_why, hint: 'For the clinic’s record; no phone is told.' },
      { name: 'trim_lines', label: 'Trim lines', kind: 'text', value: socket.trim_lines },
      { name: 'note', label: 'Reliefs, anything else', kind: 'area', value: socket.note },
    ],
    save: async ({ changed_on: on, switched_liner: liner, ...values }) => {
      const news = changed(values, before);
      if ('wear_schedule' in news) news.wear_schedule = scheduleOf(news.wear_schedule);
      const { suspension, ...rest } = news;
      const words = 'Keep it all the same';
      if (suspension && !switched) {
        switched = await despite((reason) =>
          api.addToSocket(socket.id, 'suspensions', { on: on ?? today(), suspension, liner, ...reason }), words);
        if (!switched) return;
      }
      if (Object.keys(rest).length &&
        !await despite((reason) => api.changeSocket(socket.id, { ...rest, ...reason }, socket), words)) return;
      context.say('Kept.');
      context.go(`limbs/${limb.id}`);
    },
  });
  return { title: 'Socket' };
}
