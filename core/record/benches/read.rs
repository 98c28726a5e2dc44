//! How long it takes to read one record: `cargo bench -p taperbook-record`.

use divan::{Bencher, black_box};
use taperbook_record::{append_item, read};

const NOTE: &str = "# Dust\n\nCatch it wet, and never sweep it dry. Gloves for the splinters.\n";
const BLANK: &str = "---\nkind: blank\nmaker: Northfell\nlength: 7'2\"\npieces: 1\nmaterial: carbon\ntip: tubular\nweight: 46 g\ncalipers:\n  - { at: 0 in, od: 11.20 mm, wall: 1.05 mm }\n  - { at: 30 in, od: 8.4 mm }\n  - { at: 86 in, od: 1.75 mm }\nmodulus: 95 GPa\n---\nA light one.\n";
const BUILD: &str = "---\nkind: build\nblank: heron-704\ncustomer: Ilse\npurpose: small spoons for sea trout from the rocks of an estuary\ndate: 2026-03-14\nheld_at: 9 in\nlimits: { length: 6'8\" .. 7'0\", tip_od: .. 2.2 mm, power: 200 g .. 260 g }\naim: { length: 6'10\", power: 235 g }\nbench:\n  - read: { length: 7'2\", tip_od: 1.75 mm, weight: 46 g, power: 212 g, tip_angle: 66 deg }\n  - plan: { tip: 2 in, butt: 3 in }\n  - cut: { tip: 1 in, with: rotary disc, date: 2026-03-15 }\n  - read: { power: 224 g }\n  - pull: { tip_angle: 90 deg, load: 410 g }\n  - feel: loads early, still throws straight\n  - settled: { tip: any stiffer and it won't throw the small spoons }\n  - cut: { butt: 3 in, with: fine saw in a guide }\n  - read: { length: 6'10\", power: 221 g, held_at: 9 in }\nverdict: keep\nrating: 4\ntold: 2026-03-20 agreed to 6'10\" by phone\n---\nWhat it felt like, in the builder's own words.\n";

fn main() {
    divan::main();
}

#[divan::bench]
fn note(bencher: Bencher) {
    bencher.bench(|| read("notes/dust.md", black_box(NOTE.as_bytes())));
}

#[divan::bench]
fn blank_card(bencher: Bencher) {
    bencher.bench(|| read("blanks/heron-704.md", black_box(BLANK.as_bytes())));
}

#[divan::bench]
fn build(bencher: Bencher) {
    bencher.bench(|| read("builds/ilse.md", black_box(BUILD.as_bytes())));
}

/// One colon too many: the whole front matter is read piece by piece.
#[divan::bench]
fn broken_build(bencher: Bencher) {
    let text = BUILD.replace("loads early,", "loads early:");
    bencher.bench(|| read("builds/ilse.md", black_box(text.as_bytes())));
}

#[divan::bench]
fn append(bencher: Bencher) {
    bencher.bench(|| append_item("builds/ilse.md", black_box(BUILD), "- cut: { tip: 1 in }"));
}
