//! What a suggestion looks at: one build, its piece, its card and its shop.

use std::sync::Arc;

use taperbook_bench::{Fitted, Piece, piece};
use taperbook_plugin::View;
use taperbook_record::{Blank, Build, Record};
use taperbook_units::{Length, Units};

use crate::step::Saw;
use crate::taste::{Liked, liked};
use crate::words;

/// How far a cut lands from its mark where the shop doesn't say (common practice, no source).
const SAW_ERROR: Length = Length::from_mm(0.5);

/// A build or a blank card with all that is looked at.
pub(crate) struct Case {
    pub(crate) record: Arc<Record>,
    card: Option<Arc<Record>>,
    pub(crate) piece: Arc<Piece>,
    /// Where it is held: as was asked, or as the records say.
    pub(crate) held_at: Option<Length>,
    pub(crate) saw: Saw,
    pub(crate) units: Units,
    /// The builds of the same model that turned out well, this one too if it did.
    pub(crate) liked: Arc<Vec<Liked>>,
}

impl Case {
    /// Looks at a record.
    ///
    /// # Errors
    /// When it is neither a build nor a blank card.
    pub(crate) fn new(view: &View, id: &str, held_at: Option<Length>) -> Result<Self, String> {
        let none =
            || format!("`{id}` is neither a build nor a blank card: there is nothing to cut");
        let record = view.record(id).ok_or_else(none)?;
        let piece = piece(view, id).ok_or_else(none)?;
        let card = piece.card.as_deref().and_then(|card| view.record(card));
        let shop = view.shop();
        let units = shop.units();
        let saw = Saw { error: shop.errors.saw.unwrap_or(SAW_ERROR), units };
        let liked = piece.card.as_deref().map(|card| liked(view, card)).unwrap_or_default();
        Ok(Self { record, card, held_at: held_at.or(piece.held_at), piece, saw, units, liked })
    }

    /// The build, when it is one.
    pub(crate) fn build(&self) -> Option<&Build> {
        self.record.build()
    }

    /// The blank card.
    pub(crate) fn blank(&self) -> Option<&Blank> {
        self.card.as_deref().and_then(Record::card)
    }

    /// The name of the blank card, as a record names it.
    pub(crate) fn blank_name(&self) -> &str {
        self.card.as_deref().map_or("…", Record::stem)
    }

    /// That the modulus or density on the card counts as a guess, and what to do about it; `None` where it is believed.
    pub(crate) fn doubted_card(&self) -> Option<String> {
        let fitted = self.piece.fitted.as_ref().ok().filter(|fitted| fitted.card_is_doubted)?;
        let blank = self.blank()?;
        let modulus = blank.modulus.as_ref().map(|stated| format!("{:.0} GPa", stated.value.gpa()));
        let density =
            blank.density.as_ref().map(|stated| format!("{:.0} kg/m3", stated.value.kg_per_m3()));
        let stated: Vec<String> = [("modulus", modulus), ("density", density)]
            .into_iter()
            .filter_map(|(name, stated)| Some(format!("`{name}: {}`", stated?)))
            .collect();
        let whose = if fitted.n_past == 0 { "of this piece" } else { "of its pieces" };
        Some(format!(
            "{} on the card of {} does not go with the readings {whose} and counts as a guess: measure the card's diameters and walls \
             once more, and if they are right take it out of the card",
            words::list(&stated),
            self.blank_name()
        ))
    }

    /// The same case with other mechanics of the piece.
    pub(crate) fn with(&self, fitted: Fitted) -> Self {
        Self {
            record: self.record.clone(),
            card: self.card.clone(),
            piece: Arc::new(self.piece.with(fitted)),
            held_at: self.held_at,
            saw: self.saw,
            units: self.units,
            liked: self.liked.clone(),
        }
    }
}
