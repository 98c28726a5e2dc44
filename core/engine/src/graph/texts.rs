//! Texts by number, each kept once.

use std::hash::BuildHasher;
use std::io::{self, Read, Write};

use hashbrown::{DefaultHashBuilder, HashTable};

use crate::packed::{Unpacker, put_block, put_numbers};

/// Texts, numbered in the order in which they came.
#[derive(Debug, Clone, Default)]
pub(super) struct Texts {
    /// One behind the other.
    heap: String,
    /// Where each ends.
    ends: Vec<u32>,
    numbers: HashTable<u32>,
    hasher: DefaultHashBuilder,
}

impl Texts {
    pub(super) fn get(&self, number: u32) -> &str {
        let number = number as usize;
        let from = number.checked_sub(1).map_or(0, |before| self.ends[before]);
        &self.heap[from as usize..self.ends[number] as usize]
    }

    pub(super) fn known(&self, text: &str) -> Option<u32> {
        let hash = self.hasher.hash_one(text);
        self.numbers.find(hash, |number| self.get(*number) == text).copied()
    }

    /// Gives the number of a text, a new one if it has none.
    pub(super) fn number(&mut self, text: &str) -> u32 {
        if let Some(number) = self.known(text) {
            return number;
        }
        self.heap.push_str(text);
        // Four billion bytes of ids are more than a hundred million records.
        self.ends.push(u32::try_from(self.heap.len()).unwrap_or(u32::MAX));
        let number = u32::try_from(self.ends.len() - 1).unwrap_or(u32::MAX);
        self.enter(number);
        number
    }

    fn enter(&mut self, number: u32) {
        let hash = self.hasher.hash_one(self.get(number));
        let Self { heap, ends, numbers, hasher } = self;
        let text = |number: u32| {
            let from = (number as usize).checked_sub(1).map_or(0, |before| ends[before]);
            &heap[from as usize..ends[number as usize] as usize]
        };
        numbers.insert_unique(hash, number, |number| hasher.hash_one(text(*number)));
    }

    pub(super) fn pack(&self, out: &mut impl Write) -> io::Result<()> {
        put_block(out, self.heap.as_bytes())?;
        put_numbers(out, &self.ends)
    }

    pub(super) fn unpack(from: &mut Unpacker<impl Read>) -> io::Result<Self> {
        let heap = from.text()?;
        let ends = from.numbers()?;
        let numbers = HashTable::with_capacity(ends.len());
        Ok(Self { heap, ends, numbers, ..Self::default() })
    }

    /// Makes what was read and is whole ready to be asked.
    pub(super) fn enter_all(&mut self) {
        for number in (0..).take(self.ends.len()) {
            self.enter(number);
        }
    }
}
