/** A new person, or changes to one. */

import * as api from '../../api.js';
import { today } from '../../when.js';
import { TAG } from '../../words.js';
import { changed, form } from '../form.js';

export async function show(root, { params, context }) {
  const before = params.person ? await api.person(params.person) : null;
  const back = before ? { href: `#/people/${before.id}`, words: before.name } : { href: '#/people', words: 'People' };
  form(root, {
    title: before ? 'Change profile facts' : 'Add a person',
    words: before ? 'Keep' : 'Add',
    back,
    fields: [
      { name: 'name', label: 'Name', kind: 'text', required: true, value: before?.name },
      { name: 'born_on', label: 'Born on', kind: 'date', max: today(), value: before?.born_on, hint: 'Under 18, growth is watched for as well.' },
      { name: 'clinician_id', label: 'Whose list', kind: 'choice', options: context.everyone.map((one) => [one.id, one.name]), value: before ? before.clinician_id : context.staff.id },
      ...(before ? [{ name: 'own_log', label: 'Own log', kind: 'choice', options: [['no', 'caregivers see every check-in'], ['yes', 'writes alone: caregivers see only what they wrote, and the trend']], value: before.own_log ? 'yes' : 'no' }] : []),
      { name: 'tags', label: 'What changes the reading', kind: 'checks', options: Object.entries(TAG), value: before?.tags ?? [], hint: 'Only what the person wants recorded.' },
    ],
    save: async ({ own_log, ...values }) => {
      const own = before && own_log !== (before.own_log ? 'yes' : 'no') ? { own_log: own_log === 'yes' } : {};
      if (before) await api.changePerson(before.id, { ...changed(values, before), ...own });
      const id = before?.id ?? (await api.addPerson(values)).id;
      context.say(before ? 'Kept.' : `${values.name} is added. Now add the residual limb.`);
      context.go(before ? `people/${id}` : `people/${id}/limb`);
    },
  });
  return { title: before ? before.name : 'Add a person' };
}
