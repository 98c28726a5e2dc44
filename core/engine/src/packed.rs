//! Numbers and texts one behind the other in bytes, little-endian.

use std::io::{self, BufReader, Read, Write};

/// Reads what was packed, in the order in which it was, each piece into memory of its own.
pub(crate) struct Unpacker<R> {
    /// What is short is read many at a time.
    from: BufReader<R>,
    left: u64,
    hash: blake3::Hasher,
}

/// So many bytes of numbers are read at once.
const AT_ONCE: usize = 1 << 16;

impl<R: Read> Unpacker<R> {
    /// Gives no more than so many bytes, and may read a little more.
    pub(crate) fn of(from: R, length: u64) -> Self {
        let from = BufReader::with_capacity(AT_ONCE, from);
        Self { from, left: length, hash: blake3::Hasher::new() }
    }

    fn fill(&mut self, into: &mut [u8]) -> io::Result<()> {
        let left = self.left.checked_sub(into.len() as u64);
        self.left = left.ok_or(io::ErrorKind::UnexpectedEof)?;
        self.from.read_exact(into)?;
        self.hash.update(into);
        Ok(())
    }

    pub(crate) fn array<const N: usize>(&mut self) -> io::Result<[u8; N]> {
        let mut array = [0; N];
        self.fill(&mut array)?;
        Ok(array)
    }

    pub(crate) fn u64(&mut self) -> io::Result<u64> {
        self.array().map(u64::from_le_bytes)
    }

    /// A length, which is never more than is left: nothing is taken for what can't be there.
    fn length(&mut self) -> io::Result<usize> {
        let length = self.u64()?;
        let length = Some(length).filter(|length| *length <= self.left);
        length
            .and_then(|length| usize::try_from(length).ok())
            .ok_or(io::ErrorKind::UnexpectedEof.into())
    }

    /// Bytes with their number before them.
    pub(crate) fn block(&mut self) -> io::Result<Vec<u8>> {
        let mut bytes = vec![0; self.length()?];
        self.fill(&mut bytes)?;
        Ok(bytes)
    }

    /// Numbers with their count before them.
    pub(crate) fn numbers(&mut self) -> io::Result<Vec<u32>> {
        let mut left = self.length()?;
        let mut numbers = Vec::with_capacity(left / 4);
        let mut bytes = vec![0; left.min(AT_ONCE)];
        while 0 < left {
            let bytes = &mut bytes[..left.min(AT_ONCE)];
            self.fill(bytes)?;
            let four = bytes.chunks_exact(4);
            numbers
                .extend(four.map(|four| u32::from_le_bytes([four[0], four[1], four[2], four[3]])));
            left -= bytes.len();
        }
        Ok(numbers)
    }

    /// A text with its length before it.
    pub(crate) fn text(&mut self) -> io::Result<String> {
        String::from_utf8(self.block()?).map_err(io::Error::other)
    }

    /// Ends where all is read that was to be, and it was what has this hash.
    pub(crate) fn finish(self, hash: [u8; 32]) -> io::Result<()> {
        if self.left == 0 && self.hash.finalize() == hash {
            return Ok(());
        }
        Err(io::Error::new(io::ErrorKind::InvalidData, "it is damaged"))
    }
}

/// Adds bytes with their number before them.
pub(crate) fn put_block(out: &mut impl Write, bytes: &[u8]) -> io::Result<()> {
    out.write_all(&(bytes.len() as u64).to_le_bytes())?;
    out.write_all(bytes)
}

/// Adds numbers with their count before them.
pub(crate) fn put_numbers(out: &mut impl Write, numbers: &[u32]) -> io::Result<()> {
    out.write_all(&(4 * numbers.len() as u64).to_le_bytes())?;
    numbers.iter().try_for_each(|number| out.write_all(&number.to_le_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A reader that counts how often it is asked.
    struct Counting<'a>(&'a [u8], &'a mut usize);

    impl Read for Counting<'_> {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            *self.1 += 1;
            self.0.read(into)
        }
    }

    /// Each is a call of the system where it is a file.
    #[test]
    fn numbers_one_by_one_are_not_read_one_by_one() {
        let bytes: Vec<u8> = (0..20_000_u64).flat_map(u64::to_le_bytes).collect();
        let mut n_reads = 0;
        let mut from = Unpacker::of(Counting(&bytes, &mut n_reads), bytes.len() as u64);
        for number in 0..20_000 {
            assert_eq!(from.u64().unwrap(), number);
        }
        from.finish(*blake3::hash(&bytes).as_bytes()).unwrap();
        assert!(n_reads < 10, "{n_reads}");
    }
}
