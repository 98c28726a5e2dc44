//! Records as the reader gives them: that what it calls a key, a number or a range is what a query asks for.

use taperbook_index::{Document, Index, Searcher};
use taperbook_plugin::NumberSet;

use crate::shop::{catalogue, ids};

const HERON: &str = "---
kind: blank
maker: Northfell
length: 7'2\"
pieces: 1
material: carbon
tip: tubular
weight: 46 g
calipers:
  - { at: 0 in, od: 11.20 mm, wall: 1.05 mm }
  - { at: 30 in, od: 8.4 mm }
  - { at: 86 in, od: 1.75 mm }
modulus: 95 GPa
colour: dark green
---
";

const ILSE: &str = "---
kind: build
blank: heron-704
customer: Ilse
purpose: small spoons for sea trout from the rocks of an estuary
date: 2026-03-14
held_at: 9 in
limits: { length: 6'8\" .. 7'0\", tip_od: .. 2.2 mm, power: 200 g .. 260 g }
aim: { length: 6'10\", power: 235 g }
bench:
  - read: { length: 7'2\", tip_od: 1.75 mm, weight: 46 g, power: 212 g, tip_angle: 66 deg }
  - plan: { tip: 2 in, butt: 3 in }
  - cut: { tip: 1 in, with: rotary disc, date: 2026-03-15 }
  - pull: { tip_angle: 90 deg, load: 410 g }
  - feel: loads early, still throws straight
  - settled: { tip: any stiffer and it won't throw the small spoons }
  - cut: { butt: 3 in, with: fine saw in a guide }
verdict: keep
rating: 4
told: 2026-03-20 agreed to 6'10\" by phone
serial: 704
---
# Ilse's rod

What it **felt** like, in the builder's own words.
";

fn shop() -> Searcher {
    let mut index = Index::create(None, catalogue()).unwrap();
    for (path, text, blank) in
        [("blanks/heron-704.md", HERON, None), ("builds/ilse.md", ILSE, Some("blanks/heron-704"))]
    {
        let parsed = taperbook_record::read(path, text.as_bytes());
        assert!(parsed.problems.is_empty(), "{:?}", parsed.problems);
        index
            .put(&Document {
                record: &parsed.record,
                fields: &parsed.fields,
                body: &parsed.body,
                numbers: &NumberSet::default(),
                flags: &[],
                blank,
            })
            .unwrap();
    }
    index.commit("").unwrap()
}

#[test]
fn what_is_read_is_found() {
    let shop = shop();
    for query in [
        "felt",
        "title:ilse",
        "estuary \"sea trout\"",
        "kind:build verdict:keep rating>=4",
        "customer:ilse date:2026-03",
        "limits.length<7'",
        "limits.length:6'10\"",
        "limits.tip_od<2mm",
        "limits.power:235g",
        "aim.power:235g",
        "held_at:9in",
        "bench.read.power:212g",
        "bench.read.tip_angle:66deg",
        "bench.plan.tip:2in",
        "bench.cut.tip:1in",
        "bench.cut.butt:3in",
        "bench.cut.with:\"rotary disc\"",
        "bench.cut.date:2026-03-15",
        "bench.pull.load>400g",
        "bench.feel:straight",
        "bench.settled.tip:stiffer",
        "told:phone",
        "serial:704",
        "blank:heron-704",
        "blank.material:carbon",
        "blank.calipers.od<2mm",
        "blank.colour:green",
    ] {
        assert_eq!(ids(&shop, query), ["builds/ilse"], "{query}");
    }
    for query in [
        "kind:blank",
        "maker:northfell",
        "length:7'2\"",
        "modulus:95GPa",
        "calipers.wall:1.05mm",
        "pieces:1",
    ] {
        assert_eq!(ids(&shop, query), ["blanks/heron-704"], "{query}");
    }
}
