//! A query for one state of the index: exclusions worked in, questions to cards answered.
//!
//! A record answers a question with yes, no, or that it has nothing there (Kleene's three values).
//! So each part of a query stands for two sets, the records that say yes and those that say no, and a minus swaps the two:
//! what is missing is in neither, also behind any number of minus signs.
//! What comes out knows only sets.

use std::collections::HashSet;

use tantivy::Searcher;
use taperbook_record::Kind;

use crate::evaluate;
use crate::query::{FieldTest, Node, Phrase, Test};
use crate::schema::{Fields, exact};

/// A set of records.
#[derive(Debug, Clone)]
pub(crate) enum Plan {
    /// Those in all of these; every record when there are none.
    All(Vec<Plan>),
    /// Those in any of these; no record when there are none.
    Any(Vec<Plan>),
    /// Those that are not in this.
    Except(Box<Plan>),
    /// Those with these words.
    Words(Phrase),
    /// Those that pass this test.
    Test(Test),
    /// Those whose blank is one of these cards.
    BuildsOf(HashSet<Vec<u8>>),
}

/// Makes plans for one state of the index.
pub(crate) struct Planner<'a> {
    pub(crate) fields: &'a Fields,
    pub(crate) searcher: &'a Searcher,
}

impl Planner<'_> {
    /// Gives the plan for the records that say yes.
    pub(crate) fn yes(&self, node: &Node) -> tantivy::Result<Plan> {
        Ok(match node {
            Node::Everything => Plan::All(Vec::new()),
            Node::And(parts) => Plan::All(self.each(parts, Self::yes)?),
            Node::Or(parts) => Plan::Any(self.each(parts, Self::yes)?),
            Node::Not(part) => self.no(part)?,
            Node::Words(phrase) => Plan::Words(phrase.clone()),
            Node::Field(field) => any(&field.any),
            Node::Card(part) => self.builds_of(self.yes(part)?)?,
        })
    }

    /// Gives the plan for the records that say no.
    fn no(&self, node: &Node) -> tantivy::Result<Plan> {
        Ok(match node {
            Node::Everything => Plan::Any(Vec::new()),
            Node::And(parts) => Plan::Any(self.each(parts, Self::no)?),
            Node::Or(parts) => Plan::All(self.each(parts, Self::no)?),
            Node::Not(part) => self.yes(part)?,
            Node::Words(phrase) => Plan::Except(Box::new(Plan::Words(phrase.clone()))),
            Node::Field(FieldTest { any: tests, has }) => {
                Plan::All(vec![any(has), Plan::Except(Box::new(any(tests)))])
            }
            Node::Card(part) => self.builds_of(self.no(part)?)?,
        })
    }

    fn each(
        &self,
        parts: &[Node],
        plan: fn(&Self, &Node) -> tantivy::Result<Plan>,
    ) -> tantivy::Result<Vec<Plan>> {
        parts.iter().map(|part| plan(self, part)).collect()
    }

    /// The records whose blank is one of the cards in a set.
    fn builds_of(&self, cards: Plan) -> tantivy::Result<Plan> {
        let of_kind = |kind: Kind| Test::Exact(exact::text(exact::KIND, kind.word()));
        let cards = Plan::All(vec![any(&[of_kind(Kind::Blank), of_kind(Kind::Offcut)]), cards]);
        let ids = evaluate::ids(self.searcher, self.fields, &cards)?;
        Ok(Plan::BuildsOf(ids.into_iter().collect()))
    }
}

fn any(tests: &[Test]) -> Plan {
    match tests {
        [only] => Plan::Test(only.clone()),
        _ => Plan::Any(tests.iter().cloned().map(Plan::Test).collect()),
    }
}
