//! Mechanics through its public doors, against closed forms, published values and simulated pieces.

mod calibration;
mod cards;
mod common;
mod coverage;
mod frequency;
mod large_deflection;
mod odd_fits;
// What a range is made of.
mod parts;
mod properties;
mod refinement;
mod shop;
mod tapered;
