//! Which nodes each node leads to, packed.

use std::collections::HashMap;
use std::io::{self, Read, Write};

use crate::packed::{Unpacker, put_numbers};

/// Nodes in order, and where each leads to, in order.
#[derive(Debug, Clone, Default)]
pub(super) struct Edges {
    nodes: Vec<u32>,
    /// Where those of each node end.
    ends: Vec<u32>,
    to: Vec<u32>,
}

impl Edges {
    /// How many nodes lead anywhere.
    pub(super) fn len(&self) -> usize {
        self.nodes.len()
    }

    pub(super) fn nodes(&self) -> impl Iterator<Item = u32> {
        self.nodes.iter().copied()
    }

    /// Where a node leads to.
    pub(super) fn of(&self, node: u32) -> &[u32] {
        self.nodes.binary_search(&node).map_or(&[], |at| self.at(at))
    }

    fn at(&self, at: usize) -> &[u32] {
        let from = at.checked_sub(1).map_or(0, |before| self.ends[before]);
        &self.to[from as usize..self.ends[at] as usize]
    }

    fn push(&mut self, node: u32, to: &[u32]) {
        if !to.is_empty() {
            self.nodes.push(node);
            self.to.extend_from_slice(to);
            self.ends.push(u32::try_from(self.to.len()).unwrap_or(u32::MAX));
        }
    }

    /// Gives the same with some nodes leading elsewhere.
    pub(super) fn with(&self, changed: &HashMap<u32, Box<[u32]>>) -> Self {
        let changed = changed.iter().map(|(node, to)| (*node, &**to));
        let mut changed: Vec<(u32, &[u32])> = changed.collect();
        changed.sort_unstable_by_key(|(node, _)| *node);
        let mut changed = changed.into_iter().peekable();
        let mut edges = Self::default();
        for (at, node) in self.nodes.iter().enumerate() {
            while let Some((other, to)) = changed.next_if(|(other, _)| other < node) {
                edges.push(other, to);
            }
            match changed.next_if(|(other, _)| other == node) {
                Some((_, to)) => edges.push(*node, to),
                None => edges.push(*node, self.at(at)),
            }
        }
        changed.for_each(|(node, to)| edges.push(node, to));
        edges
    }

    /// Gives the way back.
    pub(super) fn reversed(&self) -> Self {
        let mut pairs: Vec<(u32, u32)> = Vec::with_capacity(self.to.len());
        for (at, node) in self.nodes.iter().enumerate() {
            pairs.extend(self.at(at).iter().map(|to| (*to, *node)));
        }
        pairs.sort_unstable();
        let mut edges = Self::default();
        for pairs in pairs.chunk_by(|one, other| one.0 == other.0) {
            let to: Vec<u32> = pairs.iter().map(|(_, to)| *to).collect();
            edges.push(pairs[0].0, &to);
        }
        edges
    }

    pub(super) fn pack(&self, out: &mut impl Write) -> io::Result<()> {
        [&self.nodes, &self.ends, &self.to].into_iter().try_for_each(|all| put_numbers(out, all))
    }

    pub(super) fn unpack(from: &mut Unpacker<impl Read>) -> io::Result<Self> {
        Ok(Self { nodes: from.numbers()?, ends: from.numbers()?, to: from.numbers()? })
    }
}
