//! The mechanics of a piece fitted again with a reading taken otherwise.
//!
//! Which reading is to be doubted is not decided here.

use taperbook_mechanics::fit::{FitError, Reading, fit};

use super::Fitted;

impl Fitted {
    /// Fits again from what was believed before any reading, with readings changed; they are numbered as in
    /// [`super::Piece::taken`], and what the card states comes after them.
    ///
    /// Strays count unless they are changed to count for nothing.
    ///
    /// # Errors
    /// When no numbers come of the readings.
    pub fn again(&self, change: impl Fn(usize, &mut Reading)) -> Result<Fitted, FitError> {
        let mut readings = self.readings.clone();
        for (reading_idx, reading) in readings.iter_mut().enumerate() {
            change(reading_idx, reading);
        }
        let posterior = fit(&self.prior, &readings)?;
        Ok(Fitted {
            tube: posterior.tube(),
            all: posterior.clone(),
            posterior,
            strays: self.strays.clone(),
            prior: self.prior.clone(),
            card: self.card.clone(),
            n_past: self.n_past,
            card_is_doubted: self.card_is_doubted,
            readings,
        })
    }
}
