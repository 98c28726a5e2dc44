//! One random edit of the shop folder, in one of the ways in which programs save, move and delete.

use std::fs::{self, File, Permissions};
use std::io::Write as _;
use std::os::unix::fs::{PermissionsExt as _, symlink};
use std::path::PathBuf;
use std::time::{Duration, SystemTime};

use crate::fixture::Fixture;
use crate::promise::text;

/// Random numbers: SplitMix64 (Steele, Lea and Flood, OOPSLA 2014).
pub(crate) struct Random(u64);

impl Random {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub(crate) fn another(&mut self) -> Self {
        Self(self.bits())
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        bits ^ (bits >> 31)
    }

    pub(crate) fn below(&mut self, limit: u64) -> u64 {
        self.bits() % limit
    }

    pub(crate) fn pick<'a, T>(&mut self, list: &'a [T]) -> &'a T {
        let at = self.below(list.len() as u64);
        &list[usize::try_from(at).unwrap_or(0)]
    }
}

/// A folder of those in which the writers meet.
fn folder(random: &mut Random) -> String {
    let name = |random: &mut Random| *random.pick(&["a", "b", "notes", "größe", "with space"]);
    match random.below(3) {
        0 => name(random).to_owned(),
        1 => format!("{}/{}", name(random), name(random)),
        _ => format!("{}/{}/{}", name(random), name(random), name(random)),
    }
}

fn file(random: &mut Random) -> String {
    let number = random.below(8);
    let name = *random.pick(&["ilse", "otto", "HERON.MD", "line\nbreak", "otto (conflicted copy)"]);
    let ending = if name.ends_with(".MD") { "" } else { ".md" };
    format!("{}/{number}{name}{ending}", folder(random))
}

/// Does one thing; whether it succeeds does not matter.
pub(crate) fn edit(fixture: &Fixture, writer: u64, random: &mut Random) {
    let path = fixture.path(&file(random));
    let parent = path.parent().map(PathBuf::from).unwrap_or_default();
    let text = text(random.below(400));
    let _ = fs::create_dir_all(&parent);
    let temporary = parent.join(format!(".{writer}.tmp"));
    let outcome = match random.below(24) {
        0..6 => fs::write(&path, text),
        6..9 => fs::write(&temporary, text).and_then(|()| fs::rename(&temporary, &path)),
        9 => in_two_halves(&path, &text, random),
        10 => {
            let file = File::options().append(true).open(&path);
            file.and_then(|mut file| file.write_all(b"\nwhipping once more\n"))
        }
        11 | 12 => fs::remove_file(&path),
        13 => fs::rename(&path, fixture.path(&file(random))),
        14 => fs::rename(&parent, fixture.path(&folder(random))),
        15 if random.below(4) == 0 => fs::remove_dir_all(&parent),
        15 => fs::copy(&path, fixture.path(&file(random))).map(drop),
        16 => the_time_set_back(&path, &text),
        17 => fs::set_permissions(&path, Permissions::from_mode(0o600)),
        18 => symlink(fixture.path("blanks/heron.md"), &path),
        19 if random.below(4) == 0 => fs::write(parent.join("shop.yaml"), "name: another\n"),
        19 => fs::remove_file(parent.join("shop.yaml")),
        20 => there_and_back(&path, &text),
        21 => fs::hard_link(fixture.path(&file(random)), &path),
        22 => fs::write(fixture.path("blanks/heron.md"), crate::promise::CARD),
        _ => fs::write(parent.join("photo.jpg"), &text),
    };
    drop(outcome);
}

fn in_two_halves(path: &PathBuf, text: &str, random: &mut Random) -> std::io::Result<()> {
    let mut file = File::create(path)?;
    let half = text.len() / 2;
    let half = (half..).find(|at| text.is_char_boundary(*at)).unwrap_or(0);
    std::thread::sleep(Duration::from_millis(random.below(30)));
    file.write_all(&text.as_bytes()[..half])?;
    std::thread::sleep(Duration::from_millis(random.below(30)));
    file.write_all(&text.as_bytes()[half..])
}

fn the_time_set_back(path: &PathBuf, text: &str) -> std::io::Result<()> {
    fs::write(path, text)?;
    File::options()
        .write(true)
        .open(path)?
        .set_modified(SystemTime::UNIX_EPOCH + Duration::from_secs(1))
}

/// Changes a file and changes it back at once.
fn there_and_back(path: &PathBuf, text: &str) -> std::io::Result<()> {
    let before = fs::read(path)?;
    fs::write(path, text)?;
    fs::write(path, before)
}
