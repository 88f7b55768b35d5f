import { test } from 'node:test';
import assert from 'node:assert/strict';
import { freeTimes, timeOf, weekdayOf } from '../../web/clinic/slots.js';

const clinic = (said) => ({ today: '2025-09-18', to: '2025-09-30', hours: [], closed_on: [], chairs: [], visits: [],
  usual_minutes: 30, ...said });
const booked = (on, time, said) => ({ on, time, minutes: 30, cancelled: false, outcome: null, ...said });

test('a morning and an afternoon of each working day from tomorrow on', () => {
  assert.deepEqual(freeTimes(clinic(), 30).map(({ on, time }) => `${on} ${time}`),
    ['2025-09-19 09:00', '2025-09-19 12:00', '2025-09-22 09:00', '2025-09-22 12:00']);
});

test('what is booked is not offered, what was called off is', () => {
  const visits = [booked('2025-09-19', '09:15'), booked('2025-09-22', '09:00', { cancelled: true }), booked('2025-09-19', '12:00', { minutes: 90 })];
  assert.deepEqual(freeTimes(clinic({ visits }), 30).map(({ time }) => time), ['10:00', '13:30', '09:00', '12:00']);
});

test('with two chairs a second visit fits', () => {
  const visits = [booked('2025-09-19', '09:00')];
  assert.equal(freeTimes(clinic({ visits, chairs: ['1', '2'] }), 30)[0].time, '09:00');
});

test('closed days, and visits longer than the day has left', () => {
  const hours = [{ days: [5], from: '10:00', to: '12:00' }];
  assert.deepEqual(freeTimes(clinic({ hours, closed_on: ['2025-09-19'] }), 120), [{ on: '2025-09-26', time: '10:00' }]);
  assert.deepEqual(freeTimes(clinic({ hours }), 150), []);
});

test('days of the week and times of day', () => {
  assert.deepEqual(['2025-09-15', '2025-09-21'].map(weekdayOf), [1, 7]);
  assert.equal(timeOf(24 * 60 + 15), '00:15');
});
