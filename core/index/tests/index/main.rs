//! What the index finds, says and survives, through its public face alone.

// The records that the tests put in.
mod shop;

// Each form of the query language on a small shop.
mod forms;

// What each mistake in how a query is put together is answered, as it is shown.
mod mistakes;

// What each mistake in a comparison is answered: keys, values, units.
mod comparisons;

// Answers beside those of a plain walk over the records, for many generated questions.
mod asking;
mod generated;
mod oracle;
mod walk;

// Queries that nobody asks in good faith.
mod hostile;

// Opening, committing, reopening, damage.
mod keeping;

// What comes first, and what a hit shows.
mod hits;

// Records as the reader gives them.
mod reading;
