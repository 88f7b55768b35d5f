/** A residual limb of a person, new or changed. */

import * as api from '../../api.js';
import { today } from '../../when.js';
import { LEVEL, SHAPE, SIDE } from '../../words.js';
import { changed, form } from '../form.js';

export async function show(root, { params, context }) {
  const story = params.limb ? await api.limb(params.limb) : null;
  const before = story?.limb ?? null;
  const person = story?.person ?? await api.person(params.person);
  const sides = person.limbs?.map((limb) => limb.side) ?? [];
  form(root, {
    title: before ? 'Change the residual limb' : `Residual limb of ${person.name}`,
    words: before ? 'Keep' : 'Add',
    back: before ? { href: `#/limbs/${before.id}`, words: person.name } : { href: `#/people/${person.id}`, words: person.name },
    fields: [
      { name: 'side', label: 'Side', kind: 'choice', options: Object.entries(SIDE), required: true,
        value: before?.side ?? (sides.length === 1 ? (sides[0] === 'left' ? 'right' : 'left') : undefined) },
      { name: 'level', label: 'Level', kind: 'choice', options: Object.entries(LEVEL), required: true, value: before?.level },
      { name: 'amputated_on', label: 'Amputated on', kind: 'date', max: today(), value: before?.amputated_on, hint: 'Leave empty if from birth or not known.' },
      { name: 'shape', label: 'Shape', kind: 'choice', options: Object.entries(SHAPE), value: before?.shape },
      { name: 'deep_scar', label: 'Deep, drawn-in scar', kind: 'choice', options: [['yes', 'there is one'], ['no', 'none']], value: { true: 'yes', false: 'no' }[before?.deep_scar], hint: 'Look and feel. It stands against a socket formed on the limb.' },
      { name: 'reference_circumference_mm', label: 'Reference circumference', kind: 'quantity', measure: 'length', low: 120, high: 800, value: before?.reference_circumference_mm, hint: 'Turns sock thickness into percent of volume. Measure where the socks sit.' },
    ],
    save: async ({ deep_scar: scar, ...rest }) => {
      const values = { ...rest, deep_scar: scar === null ? null : scar === 'yes' };
      if (before) await api.changeLimb(before.id, changed(values, before), before);
      const id = before?.id ?? (await api.addToPerson(person.id, 'limbs', values)).id;
      context.say(before ? 'Kept.' : 'The limb is added. Now add its socket.');
      context.go(before ? `limbs/${id}` : `limbs/${id}/socket`);
    },
  });
  return { title: 'Residual limb' };
}
