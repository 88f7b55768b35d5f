/** What changes on a socket that stays: suspension, limit, wear schedule, the day it was retired. */

import * as api from '../../api.js';
import { html } from '../../../shared/html.js';
import { day, today } from '../../when.js';
import { limbName, PURPOSE, SUSPENSION } from '../../words.js';
import { changed, form } from '../form.js';

export async function show(root, { params, context }) {
  const { person, limb, sockets } = await api.limb(params.limb);
  const socket = sockets.find((one) => one.id === params.socket);
  const before = { ...socket, wear_schedule: scheduleText(socket.wear_schedule) };
  form(root, {
    title: `${PURPOSE[socket.purpose]} socket of ${day(socket.fitted_on)}`,
    intro: html`${person.name}, ${limbName(limb)}. For a new socket, add one instead: it starts a new baseline.`,
    words: 'Keep',
    back: { href: `#/limbs/${limb.id}`, words: person.name },
    fields: [
      { name: 'suspension', label: 'Suspension', kind: 'choice', options: Object.entries(SUSPENSION), value: socket.suspension, hint: 'Can change on the same socket. The change is marked on the limb’s story.' },
      { name: 'changed_on', label: 'Suspension changed on', kind: 'date', value: today(), max: today() },
      { name: 'liner_mm', label: 'Liner thickness', kind: 'quantity', measure: 'thickness', low: 1.5, high: 12, value: socket.liner_mm },
      { name: 'weight_limit_kg', label: 'Body-weight limit', kind: 'quantity', measure: 'weight', low: 15, high: 200, value: socket.weight_limit_kg },
      { name: 'wear_schedule', label: 'Wear schedule', kind: 'text', value: before.wear_schedule, hint: 'Hours on each day from fitting, for example: 1, 2, 4, 8. The person sees it on their phone.' },
      { name: 'retired_on', label: 'Retired on', kind: 'date', value: socket.retired_on },
      { name: 'trim_lines', label: 'Trim lines', kind: 'text', value: socket.trim_lines },
      { name: 'note', label: 'Reliefs, anything else', kind: 'area', value: socket.note },
    ],
    save: async ({ changed_on: on, ...values }) => {
      const news = changed(values, before);
      if ('wear_schedule' in news) news.wear_schedule = scheduleOf(news.wear_schedule);
      const { suspension, ...rest } = news;
      if (suspension) await api.addToSocket(socket.id, 'suspensions', { on: on ?? today(), suspension });
      if (Object.keys(rest).length) await api.changeSocket(socket.id, rest);
      context.say('Kept.');
      context.go(`limbs/${limb.id}`);
    },
  });
  return { title: 'Socket' };
}

const scheduleText = (schedule) => (schedule ? schedule.map(({ hours }) => hours).join(', ') : null);

function scheduleOf(text) {
  if (!text) return null;
  return text.split(/[\s,;]+/).filter(Boolean).map((hours, i) => {
    if (!/^\d+([.]\d+)?$/.test(hours) || Number(hours) > 24) {
      throw Object.assign(new Error('Some fields need another look.'), { fields: { wear_schedule: [`“${hours}” is not a number of hours.`] } });
    }
    return { day: i + 1, hours: Number(hours) };
  });
}
