/** A visit planned with a person. */

import * as api from '../../api.js';
import { today } from '../../when.js';
import { form } from '../form.js';

export async function show(root, { params, context }) {
  const person = await api.person(params.person);
  form(root, {
    title: `Plan a visit with ${person.name}`,
    words: 'Plan',
    back: { href: `#/people/${person.id}`, words: person.name },
    fields: [
      { name: 'on', label: 'Day', kind: 'date', required: true, value: today() },
      { name: 'time', label: 'Time', kind: 'time' },
      { name: 'what', label: 'What for', kind: 'text', hint: 'The person sees this on their phone.' },
    ],
    save: async (values) => {
      await api.addToPerson(person.id, 'visits', values);
      context.say('The visit is planned.');
      context.go(`people/${person.id}`);
    },
  });
  return { title: 'Plan a visit' };
}
