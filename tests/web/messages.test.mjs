import { test } from 'node:test';
import assert from 'node:assert/strict';
import { answerTo, asks, offered, onFirstPage, seen, settledAnswers, talkOf, waitingOf } from '../../web/phone/messages.js';
import { visitFile } from '../../web/phone/calendar.js';

const NOW = new Date('2025-09-15T12:00:00Z');
const question = (said) => ({ id: 'm1', person_id: 'p1', kind: 'question', text: 'So?', choices: ['Yes', 'No'],
  by: 'Ida', at: '2025-09-15T10:00:00Z', withdrawn: false, answers: [], ...said });
const person = { id: 'p1' };

test('an answer is offered until the clinic has it, and brings what it answers', () => {
  const answer = answerTo(question(), { choice: 'Yes' }, NOW);
  const [sent] = waitingOf([answer]).map(offered);
  assert.equal(sent.state, undefined);
  assert.deepEqual(sent.message, { kind: 'question', text: 'So?', choices: ['Yes', 'No'], at: '2025-09-15T10:00:00Z', by: 'Ida' });
  const kept = settledAnswers([answer], [{ id: answer.id, status: 'kept', errors: {} }]);
  assert.deepEqual(waitingOf(kept), []);
  assert.equal(settledAnswers([answer], [{ id: 'another', status: 'kept' }])[0].state, 'waiting');
});

test('after a restore all that was kept is offered again, and what was refused is not', () => {
  const [kept, refused] = [answerTo(question(), { choice: 'Yes' }, NOW), answerTo(question(), { text: 'x' }, NOW)];
  const before = settledAnswers([kept, refused],
    [{ id: kept.id, status: 'kept' }, { id: refused.id, status: 'refused', errors: { text: ['no'] } }]);
  assert.deepEqual(settledAnswers(before, [], true).map(({ state }) => state), ['waiting', 'refused']);
});

test('of the answers the clinic has, the newest are remembered; none that waits is ever dropped', () => {
  const many = Array.from({ length: 230 }, (_, n) => ({ id: `a${n}`, state: n < 10 ? 'waiting' : 'kept' }));
  const left = settledAnswers(many, []);
  assert.equal(left.length, 210);
  assert.equal(left.filter(({ state }) => state === 'waiting').length, 10);
});

test('an answer of this phone stands once, with what the clinic says of it', () => {
  const mine = { ...answerTo(question(), { choice: 'Yes' }, NOW), state: 'kept' };
  const told = question({ answers: [{ id: mine.id, choice: 'Yes', said_at: mine.said_at, read_at: '2025-09-15T13:00:00Z', read_by: 'Ida', mine: true },
    { id: 'other', choice: 'No', said_at: '2025-09-15T11:00:00Z', read_at: null, mine: false }] });
  const [talk] = talkOf({ messages: [told], answers: [mine, { ...seen(told, NOW), state: 'kept' }] }, person);
  assert.deepEqual(talk.answers.map(({ choice, mine: own, read_by: by }) => [choice, own, by]),
    [['No', false, undefined], ['Yes', true, 'Ida']]);
  assert.ok(talk.seenHere);
  assert.deepEqual(talkOf({ messages: [told], answers: [] }, { id: 'p2' }), []);
});

test('a question asks until it is answered or taken back; what was refused is no answer', () => {
  const with_ = (said) => talkOf({ messages: [question(said)], answers: said.own ?? [] }, person)[0];
  assert.ok(asks(with_({})));
  assert.ok(!asks(with_({ withdrawn: true })));
  assert.ok(!asks(with_({ own: [answerTo(question(), { choice: 'Yes' }, NOW)] })));
  assert.ok(asks(with_({ own: [{ ...answerTo(question(), { choice: 'Yes' }, NOW), state: 'refused' }] })));
  assert.ok(!asks(with_({ kind: 'words' })));
});

test('the first page shows what asks for a month and what is news for days', () => {
  const talk = talkOf({ messages: [question({ at: '2025-09-01T10:00:00Z' }),
    question({ id: 'm2', kind: 'words', at: '2025-09-01T10:00:00Z' }), question({ id: 'm3', kind: 'read', at: '2025-09-14T10:00:00Z' })] }, person);
  assert.deepEqual(onFirstPage(talk, '2025-09-15').map(({ id }) => id), ['m3', 'm1']);
  assert.deepEqual(onFirstPage(talk, '2025-10-15'), []);
});

test('a visit that was moved or called off changes the one in the calendar', () => {
  const file = visitFile([
    { id: 'v1', on: '2025-09-18', time: '10:30', minutes: 45, begins: '2025-09-18T08:30:00+00:00', ends: '2025-09-18T09:15:00+00:00', sequence: 2, cancelled: false, what: 'Review; fit' },
    { id: 'v2', on: '2025-09-19', time: '09:00', minutes: null, begins: null, ends: null, sequence: 1, cancelled: true },
    { id: 'v3', on: '2025-09-20', time: null, minutes: null },
  ], { summary: ({ what }) => what ?? 'Visit', stamp: '20250915T120000Z' });
  assert.match(file, /UID:visit-v1@plytide.invalid\r\nDTSTAMP:20250915T120000Z\r\nSEQUENCE:2\r\nDTSTART:20250918T083000Z\r\nDTEND:20250918T091500Z\r\nSUMMARY:Review\\; fit\r\nSTATUS:CONFIRMED/);
  assert.match(file, /SEQUENCE:1\r\nDTSTART:20250919T090000\r\nDURATION:PT30M\r\nSUMMARY:Visit\r\nSTATUS:CANCELLED/);
  assert.match(file, /SEQUENCE:0\r\nDTSTART;VALUE=DATE:20250920/);
});
