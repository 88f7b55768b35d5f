/** Weight in the wearer's own unit; kept in kg. */

const KG_A_POUND = 0.45359237; // the international pound, exactly

export const UNITS = ['kg', 'lb'];

/** Where people weigh in pounds unless they say otherwise. */
export const usualUnit = (language) => (language === 'en-US' ? 'lb' : 'kg');

const rounded = (value, digits) => Number(value.toFixed(digits));

/** What could not be read as a number stays as it was typed: it is shown again, and never kept. */
export const toKg = (value, unit) => (typeof value !== 'number' ? value : rounded(unit === 'lb' ? value * KG_A_POUND : value, 2));

export const fromKg = (kg, unit) => (typeof kg !== 'number' ? kg ?? null : rounded(unit === 'lb' ? kg / KG_A_POUND : kg, 1));
