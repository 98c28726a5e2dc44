//! The daemon and the question as a caller has them: a real folder, the real watcher, the real socket.
//!
//! How the engine answers is tested with the engine; what the watcher sees, with the folder.

/// A daemon in a process of its own, to be killed or to be put under other limits.
mod child;
/// A shop folder of its own, a daemon on a thread, and plugins that are enough to see examinations.
mod fixture;
/// What must hold after any fault: the index is that of the folder, the answers are those of a new index, and the
/// folder is as it was.
mod promise;

/// Each way in which watching, the disk, the index or the clock may fail, on the real watcher and a real folder.
mod faults;
/// What is written is answered, in all ways of writing it, under load, and while a first look goes on.
mod fence;
/// Starting, stopping, one at a time, states, and who waits for whom.
mod life;
/// Clients that misbehave hold up nobody.
mod socket;
/// What is left behind: nothing in the shop folder, and a usable index after a kill or damage.
mod state;
