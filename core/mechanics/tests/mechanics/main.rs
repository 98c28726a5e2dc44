//! Mechanics through its public doors, against closed forms, published values and simulated pieces.

// How often memory is asked for.
mod allocations;
// Against scipy's boundary-value solver.
mod boundary_value;
// Which of several bends is found, and buckling.
mod branches;
// Boards and clamps, lengths and joints.
mod boards;
mod calibration;
mod cards;
mod common;
mod coverage;
mod frequency;
mod large_deflection;
mod odd_fits;
// What is no tube, and numbers that a slip makes.
mod odd_tubes;
// What a range is made of.
mod parts;
mod properties;
mod refinement;
// An independent integrator, for `branches`.
mod shooting;
mod shop;
mod tapered;
