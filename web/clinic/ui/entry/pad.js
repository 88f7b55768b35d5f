/** A pad put into the socket worn now. */

import * as api from '../../api.js';
import { today } from '../../when.js';
import { limbName, PURPOSE } from '../../words.js';
import { form } from '../form.js';
import { PLACE_WORDS, PLACES } from '/shared/places.js';

export async function show(root, { params, context }) {
  const { person, limb, sockets } = await api.limb(params.limb);
  const worn = sockets.filter((socket) => !socket.retired_on);
  form(root, {
    title: `Pad for ${person.name}, ${limbName(limb)}`,
    intro: 'A pad fills space as a sock does: the engine counts its thickness from this day on.',
    words: 'Add the pad',
    back: { href: `#/limbs/${limb.id}`, words: person.name },
    fields: [
      { name: 'socket', label: 'In which socket', kind: 'choice', required: true, options: worn.map((socket) => [socket.id, `${PURPOSE[socket.purpose]}, fitted ${socket.fitted_on}`]), value: worn.at(-1)?.id },
      { name: 'on', label: 'From', kind: 'date', required: true, value: today() },
      { name: 'thickness_mm', label: 'Thickness', kind: 'quantity', measure: 'thickness', low: 0.5, high: 12, required: true },
      { name: 'place', label: 'Where', kind: 'choice', options: (PLACES[limb.level] ?? []).map((place) => [PLACE_WORDS[place], PLACE_WORDS[place]]) },
    ],
    save: async ({ socket, ...values }) => {
      await api.addToSocket(socket, 'pads', values);
      context.say('The pad is added.');
      context.go(`limbs/${limb.id}`);
    },
  });
  return { title: 'Pad' };
}
