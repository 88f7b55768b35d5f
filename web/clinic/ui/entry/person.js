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
      { name: 'clinician_id', label: 'Whose list', kind: 'choice',
        options: context.everyone.map((one) => [one.id, one.name]), value: before ? before.clinician_id
        : context.staff.id },
      ...(before ? [{ name: 'own_log', label: 'Own log', kind: 'choice', options: [['no', 'caregivers see every check-in'], ['yes', 'writes alone: caregivers see only what they wrote, and the trend']], value: before.own_log ? 'yes' : 'no' }] : []),
      { name: 'telephones', label: 'Telephone numbers', kind: 'area', value: (before?.telephones ?? []).map(lineOf).join('\n'), hint: 'One a line: the number, whose it is, when best. Such as: 020 123 45, her sister, after ten' },
      { name: 'ask_for', label: 'Whom to ask for', kind: 'text', value: before?.ask_for },
      { name: 'language', label: 'Language', kind: 'text', value: before?.language },
      { name: 'record_number', label: 'Record number', kind: 'text', value: before?.record_number, hint: 'What the clinic’s own papers call this person.' },
      { name: 'referrer', label: 'Referred by', kind: 'text', value: before?.referrer },
      { name: 'physician', label: 'Physician', kind: 'text', value: before?.physician },
      { name: 'physician_phone', label: 'Telephone of the physician', kind: 'text', value: before?.physician_phone },
      { name: 'heart_team_phone', label: 'Telephone of the heart team', kind: 'text', value: before?.heart_team_phone, hint: 'The phone offers it when weight goes up fast in heart failure.' },
      { name: 'kidney_team_phone', label: 'Telephone of the kidney team', kind: 'text', value: before?.kidney_team_phone, hint: 'For somebody on dialysis.' },
      { name: 'tags', label: 'What changes the reading', kind: 'checks', options: Object.entries(TAG), value: before?.tags ?? [], hint: 'Only what the person wants recorded.' },
    ],
    save: async ({ own_log, ...given }) => {
      const values = { ...given, telephones: telephonesOf(given.telephones) };
      const own = before && own_log !== (before.own_log ? 'yes' : 'no') ? { own_log: own_log === 'yes' } : {};
      if (before) await api.changePerson(before.id, { ...changed(values, before), ...own }, before);
      const id = before?.id ?? (await api.addPerson(values)).id;
      context.say(before ? 'Kept.' : `${values.name} is added. Now add the residual limb.`);
      context.go(before ? `people/${id}` : `people/${id}/limb`);
    },
  });
  return { title: before ? before.name : 'Add a person' };
}

const lineOf = ({ number, whose, best }) => [number, whose ?? (best ? '' : null), best].filter((part) => part !== null)
  .join(', ');

/** Lines "number, whose, when" as the server keeps them. */
function telephonesOf(text) {
  return (text ?? '').split('\n').map((line) => line.split(',').map((part) => part.trim())).filter(([number]) => number)
    .map(([number, whose, ...best]) => ({ number, whose: whose || null, best: best.join(', ') || null }));
}
