//! Tests of the notation from outside, one module per side of it.

// Every notation of the workshop with its value and half step.
mod notation;
// What is refused, with the whole message.
mod errors;
// Ranges, accepted and refused.
mod intervals;
// Factors against published ones.
mod conversions;
// Printed forms and their rounding.
mod printing;
// What holds for every text and every number.
mod properties;
