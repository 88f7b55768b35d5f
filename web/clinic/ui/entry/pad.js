/** A pad, or a half sock, put into the socket worn now. */

import * as api from '../../api.js';
import { day, today } from '../../when.js';
import { limbName, PURPOSE } from '../../words.js';
import { correcting, keepCorrection, WHY } from '../corrections.js';
import { form } from '../form.js';
import { PLACES, placeWords } from '/shared/places.js';

/** Shares to choose from, and the one that was entered by another way. */
const HALVES = [[30, 'the lower third'], [50, 'the lower half'], [70, 'the lower two thirds']];
const halves = (own) => (own && !HALVES.some(([share]) => share === own) ? [...HALVES, [own, `${own} % from the end up`]] : HALVES);

export async function show(root, { params, query, context }) {
  const story = await api.limb(params.limb);
  const { person, limb, sockets } = story;
  const before = correcting(story, query);
  const worn = sockets.filter((socket) => (before ? socket.id === before.socket_id : !socket.retired_on));
  const places = (PLACES[limb.level] ?? []).map(placeWords);
  const was = before?.place ? placeWords(before.place) : null;
  if (was && !places.includes(was)) places.unshift(was);
  form(root, {
    title: `${before ? 'Correct the pad' : 'Pad'} for ${person.name}, ${limbName(limb)}`,
    intro: 'A pad fills space as a sock does: the engine counts its thickness from this day on. Of a half sock it counts the share it covers.',
    words: before ? 'Keep' : 'Add the pad',
    back: { href: `#/limbs/${limb.id}`, words: person.name },
    fields: [
      { name: 'socket', label: 'In which socket', kind: 'choice', required: true, options: worn.map((socket) => [socket.id, `${PURPOSE[socket.purpose]}, fitted ${day(socket.fitted_on)}`]), value: worn.at(-1)?.id },
      { name: 'on', label: 'From', kind: 'date', required: true, value: before?.on ?? today() },
      { name: 'thickness_mm', label: 'Thickness', kind: 'quantity', measure: 'thickness', low: 0.5, high: 12, required: true, value: before?.thickness_mm },
      { name: 'length_mm', label: 'Length', kind: 'quantity', measure: 'thickness', low: 5, high: 300, value: before?.length_mm },
      { name: 'width_mm', label: 'Width', kind: 'quantity', measure: 'thickness', low: 5, high: 300, value: before?.width_mm },
      { name: 'place', label: 'Where', kind: 'choice', options: places.map((words) => [words, words]), value: was },
      { name: 'half_sock_pct', label: 'Half sock: what it covers', kind: 'choice', options: halves(before?.half_sock_pct), value: before?.half_sock_pct },
      ...(before ? [WHY] : []),
    ],
    save: async ({ socket, half_sock_pct: share, ...given }) => {
      const values = { ...given, half_sock_pct: share ? Number(share) : null };
      if (before) return keepCorrection('pad', before, limb, values, context);
      await api.addToSocket(socket, 'pads', values);
      context.say('The pad is added.');
      context.go(`limbs/${limb.id}`);
    },
  });
  return { title: 'Pad' };
}
