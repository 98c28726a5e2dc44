//! The page over a real socket: what it shows, what it writes for whom, and every way to abuse it that we know of.

/// Attacks, each a test: another host, another origin, no pen, too much, too slow, too many.
mod attacks;
/// A page that goes on in another process.
mod closing;
/// A page on a port of its own, with a shop of answers made by hand behind it, and HTTP by hand before it.
mod served;
/// What is shown and what is written.
mod shown;
