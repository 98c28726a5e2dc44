//! Boards and clamps by name, as the mechanics wants them: by key.

use std::hash::{DefaultHasher, Hash as _, Hasher as _};

use taperbook_mechanics::fit::{Give, Level, Setup};
use taperbook_record::{Board, Clamp, Shop};
use taperbook_units::STANDARD_GRAVITY;

/// Gives the board and the clamp that a name in a record stands for.
///
/// Where a record says nothing it is the first board that the shop lists, so that a second one that is added below takes no readings
/// from it. A board without a named clamp has one of its own.
/// A board that the shop does not list is a board all the same.
pub fn setup_of(shop: &Shop, board: Option<&str>) -> Setup {
    let known = match (board, &shop.boards[..]) {
        (Some(name), boards) => boards.iter().find(|board| same(&board.name, name)),
        (None, boards) => boards.first(),
    };
    match (known, board) {
        (Some(board), _) => Setup { board: key("board", &board.name), clamp: clamp_of(board) },
        (None, Some(name)) => {
            Setup { board: key("board", name), clamp: key("clamp of board", name) }
        }
        (None, None) => Setup::default(),
    }
}

/// Gives the measured tilts of the shop's boards.
pub(crate) fn levels(shop: &Shop) -> Vec<Level> {
    let level = |board: &Board| Some(Level { board: key("board", &board.name), tilt: board.tilt? });
    shop.boards.iter().filter_map(level).collect()
}

/// Gives the measured gives of the shop's clamps, from the angle under 1 kg a metre out.
pub(crate) fn gives(shop: &Shop) -> Vec<Give> {
    let give = |clamp: &Clamp| {
        let give = clamp.gives?.rad() / STANDARD_GRAVITY;
        Some(Give { clamp: key("clamp", &clamp.name), give })
    };
    shop.clamps.iter().filter_map(give).collect()
}

fn clamp_of(board: &Board) -> u64 {
    match &board.clamp {
        Some(clamp) => key("clamp", clamp),
        None => key("clamp of board", &board.name),
    }
}

fn same(one: &str, other: &str) -> bool {
    plain(one) == plain(other)
}

/// A name as it is compared: case and blanks around it don't matter.
fn plain(name: &str) -> String {
    name.trim().to_lowercase()
}

fn key(what: &str, name: &str) -> u64 {
    let mut hasher = DefaultHasher::new();
    (what, plain(name)).hash(&mut hasher);
    hasher.finish()
}

#[cfg(test)]
mod tests {
    use taperbook_units::Angle;

    use super::*;

    fn board(name: &str, clamp: Option<&str>, tilt_deg: Option<f64>) -> Board {
        let (clamp, tilt) = (clamp.map(str::to_owned), tilt_deg.map(Angle::from_deg));
        Board { name: name.to_owned(), clamp, tilt }
    }

    #[test]
    fn boards_are_told_apart_by_name_and_share_a_clamp_by_name() {
        let boards = vec![
            board("Long wall", Some("oak jaws"), None),
            board("window", Some("oak jaws"), Some(0.3)),
            board("bench end", None, None),
        ];
        let shop = Shop { boards, ..Shop::default() };
        let [long, window, end] =
            ["long wall ", "window", "bench end"].map(|name| setup_of(&shop, Some(name)));
        assert_ne!(long.board, window.board);
        assert_eq!(long.clamp, window.clamp);
        assert_ne!(long.clamp, end.clamp);
        assert_eq!(setup_of(&shop, None), long, "the first is meant");
        let strange = setup_of(&shop, Some("a friend's"));
        assert!(![long, window, end].contains(&strange));
        let levels = levels(&shop);
        assert_eq!((levels.len(), levels[0].board), (1, window.board));
    }

    #[test]
    fn the_first_board_is_meant_by_readings_that_name_none() {
        let shop = Shop { boards: vec![board("long wall", None, None)], ..Shop::default() };
        let before = setup_of(&shop, None);
        assert_eq!(before, setup_of(&shop, Some("long wall")));
        let boards = vec![board("long wall", None, None), board("window", None, Some(0.3))];
        assert_eq!(setup_of(&Shop { boards, ..Shop::default() }, None), before);
        assert_eq!(setup_of(&Shop::default(), None), Setup::default());
    }
}
