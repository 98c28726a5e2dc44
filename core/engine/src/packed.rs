//! Numbers and texts one behind the other in bytes, little-endian.

use std::io;

/// Reads what was packed, in the order in which it was.
pub(crate) struct Unpacker<'a> {
    rest: &'a [u8],
}

impl<'a> Unpacker<'a> {
    pub(crate) fn of(bytes: &'a [u8]) -> Self {
        Self { rest: bytes }
    }

    pub(crate) fn bytes(&mut self, n: usize) -> io::Result<&'a [u8]> {
        let (bytes, rest) = self.rest.split_at_checked(n).ok_or(io::ErrorKind::UnexpectedEof)?;
        self.rest = rest;
        Ok(bytes)
    }

    pub(crate) fn array<const N: usize>(&mut self) -> io::Result<[u8; N]> {
        let mut array = [0; N];
        array.copy_from_slice(self.bytes(N)?);
        Ok(array)
    }

    pub(crate) fn u64(&mut self) -> io::Result<u64> {
        self.array().map(u64::from_le_bytes)
    }

    /// Bytes with their number before them.
    pub(crate) fn block(&mut self) -> io::Result<&'a [u8]> {
        let n = usize::try_from(self.u64()?).map_err(io::Error::other)?;
        self.bytes(n)
    }

    /// Numbers with their count before them.
    pub(crate) fn numbers(&mut self) -> io::Result<Vec<u32>> {
        let numbers = self.block()?.chunks_exact(4);
        Ok(numbers.map(|four| u32::from_le_bytes([four[0], four[1], four[2], four[3]])).collect())
    }

    /// A text with its length before it.
    pub(crate) fn text(&mut self) -> io::Result<&'a str> {
        std::str::from_utf8(self.block()?).map_err(io::Error::other)
    }
}

/// Adds bytes with their number before them.
pub(crate) fn put_block(out: &mut Vec<u8>, bytes: &[u8]) {
    out.extend((bytes.len() as u64).to_le_bytes());
    out.extend(bytes);
}

/// Adds numbers with their count before them.
pub(crate) fn put_numbers(out: &mut Vec<u8>, numbers: &[u32]) {
    out.extend((4 * numbers.len() as u64).to_le_bytes());
    numbers.iter().for_each(|number| out.extend(number.to_le_bytes()));
}
