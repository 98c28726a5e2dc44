//! Mechanics through its public doors, against closed forms, published values and simulated pieces.

mod calibration;
mod cards;
mod common;
mod coverage;
mod frequency;
mod large_deflection;
mod odd_fits;
mod properties;
mod refinement;
mod shop;
mod tapered;
