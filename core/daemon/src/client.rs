//! The client's side of the socket: one call, one reply.

use std::io::{self, BufRead as _, BufReader, Write as _};
use std::os::unix::net::UnixStream;
use std::time::Duration;

use crate::desk::FENCE_TIMEOUT;
use crate::wire::Reply;

/// What came of a call.
pub(crate) enum Said {
    /// The daemon replied.
    Reply(Reply),
    /// It went away before it replied: it was stopped or killed.
    Gone,
    /// It did not reply in time.
    Nothing,
}

/// The daemon gives up on a fence before, so that what is reached here is a daemon that is stuck or was halted,
/// or a question that takes that long.
const PATIENCE: Duration = FENCE_TIMEOUT.saturating_mul(2);

/// Sends a call's line and waits for the reply.
///
/// # Errors
/// When the reply makes no sense, or the system fails in another way than by the daemon's going away.
pub(crate) fn exchange(mut stream: UnixStream, line: &[u8]) -> io::Result<Said> {
    stream.set_read_timeout(Some(PATIENCE))?;
    stream.set_write_timeout(Some(PATIENCE))?;
    let mut reply = Vec::new();
    let talk =
        stream.write_all(line).and_then(|()| BufReader::new(stream).read_until(b'\n', &mut reply));
    match talk {
        Ok(_) if reply.ends_with(b"\n") => Ok(Said::Reply(serde_json::from_slice(&reply)?)),
        Ok(_) => Ok(Said::Gone),
        Err(error) => match error.kind() {
            io::ErrorKind::BrokenPipe | io::ErrorKind::ConnectionReset => Ok(Said::Gone),
            io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut => Ok(Said::Nothing),
            _ => Err(error),
        },
    }
}
